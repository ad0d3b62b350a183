package say

// The cautions are shown where the work is done. Sources: 29 CFR 1910.177 and 1910.244
// as reprinted in public manuals; workshop practice. They are the usual ones,
// not a full list. The last one names what comes first.
const (
	CautionLocal = "These are the usual cautions, not all of them: local rules, the maker's instructions and " +
		"licensed practice come first."
	CautionJack = "Firm ground, wheels chocked; set stands or cribbing at once and never work under a jack alone."
	CautionFit  = "Clean faces without paint or dirt, nuts run on by hand, tightened in star order with a torque " +
		"wrench; no oil unless the maker asks for it. Check again after the first distance."
	CautionRunLow = "A tire that ran at 80% of its pressure or less counts as run flat: deflate it fully before " +
		"the wheel comes off, demount it and look inside. Never just add air."
	CautionInflate = "Large-vehicle wheels are inflated in a restraining device by trained people: clip-on chuck, " +
		"gauge in the line, hose long enough to stand out of the way of what may fly."
	CautionHot = "Never let air out of a warm tire to bring it to the cold target."
)
