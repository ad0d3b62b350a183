package say

type Term struct{ Word, Meaning string }

// Terms are the words of the trade as the pages use them.
var Terms = []Term{
	{"tire", "Also written tyre; search finds both."},
	{
		"position",
		"Axle from the front, side, and on duals outer or inner: 1L, 2RO, 2LI; SP1 is a spare. Left is the driver's " +
			"left facing forward.",
	},
	{"fitment", "One tire at one place, from the day it is fitted there to the day it comes off or moves."},
	{
		"tread depth",
		"From the tread down to the bottom of a groove. Grooves are counted from the outboard shoulder to the " +
			"inboard one.",
	},
	{"station", "A place around the tire; the first is at the valve, the others follow clockwise seen from outside."},
	{
		"tread bar",
		"Our drawing of a tire: a bar for each groove, hanging as deep as the rubber that is left. A crooked edge " +
			"is uneven wear.",
	},
	{"major groove", "A main groove of the tread. Many laws count only these."},
	{
		"wear bar",
		"A raised strip in the groove; when the tread is level with it, the tire is worn out. Also: treadwear " +
			"indicator.",
	},
	{
		"legal minimum",
		"The depth below which the rule that applies wants the tire off. It is compared in the rule's own unit.",
	},
	{"pull point", "The depth at which your policy takes a tire off, before the law does."},
	{"cupping", "Dips around the tire. Also: scalloping."},
	{"feathering", "Rib edges worn to one side, sharp to the hand one way and smooth the other. Also: saw-tooth."},
	{"heel and toe", "Blocks worn more at one end than at the other."},
	{"erosion", "A thin channel worn along the edge of a rib. Also: river wear."},
	{
		"imbalance",
		"Mass that is not even around the wheel; standards write unbalance. Static shakes up and down, couple from " +
			"side to side.",
	},
	{"run-out", "How far the wheel or tire is from round (radial) or from straight (lateral)."},
	{"balance weight", "Clip or adhesive. Angles are degrees clockwise from the valve seen from outside the vehicle."},
	{"damper", "Also: shock absorber."},
	{"alignment", "Toe, camber, caster and thrust of the axles. Also: tracking."},
	{"dual", "Two wheels side by side on one end of an axle. Also: twin."},
	{"retread", "A casing with a new tread. Also: recap, remould."},
	{"casing", "What is left of the tire under the tread."},
	{"TIN", "Tire identification number, which ends with the week and year of making."},
	{
		"bead",
		"The edge of the tire that sits on the rim; it is seated when the line on the sidewall runs evenly all around.",
	},
	{"sidewall", "The flank between tread and bead. A bulge in it means that cords inside are broken."},
	{
		"cord",
		"The threads or wires inside the tire that hold the air. Where they can be seen, or a cut reaches them, the " +
			"tire is finished.",
	},
	{"flat spot", "One place worn flat, as a locked brake leaves it."},
	{"run flat", "A tire that ran at 80% of its pressure or less. It can be torn inside without showing it."},
	{
		"wheel",
		"What the tire is mounted on: the rim that carries it, its flange on either edge, the disc with or without " +
			"spokes, the valve.",
	},
	{
		"unrolled strip",
		"Our drawing of what was read around a tire: the first place, at the valve, on the left, and on from there " +
			"clockwise.",
	},
	{"check spin", "A run on the balancer that removes and fits nothing: it shows what is there now."},
	{"match mounting", "Turning the tire on its rim so that the high spot of one meets the low spot of the other."},
	{"kingpin", "The pin about which a steered wheel turns; its play is felt as looseness."},
	{"torque", "How hard a nut is tightened, in newton meters. Re-torque is the check of it after the first distance."},
	{"rotate", "Move tires between the places of a vehicle so that they wear evenly. Recorded whole or not at all."},
	{"regroove", "Cut grooves anew into a tire that is made for it; some rules bar it on some axles."},
	{"gauge", "What depth is read with. How finely it reads decides what counts as a difference."},
	{"odometer", "What the vehicle has driven. It may be unknown; then only time counts."},
	{"parking row", "Where the vehicle is parked in the yard; the yard page is in this order."},
	{"depot", "A yard with its own time zone, law, units and weekly mail."},
	{"policy", "Your own intervals and pull points, by depot and class of vehicle."},
	{
		"finding",
		"What the tool says about a vehicle or a place, with its evidence and the first job. It closes by itself " +
			"when the record shows that it is over.",
	},
	{"attention list", "The vehicles with open findings, most urgent first."},
	{"digest", "The weekly mail of a depot with what is open and what comes due."},
	{"off the road", "The vehicle should not run until this is settled."},
	{"do now", "Before the next trip, or at the next stop at the yard."},
	{"plan", "Book it; there is time."},
	{"watch", "Look at it at each inspection."},
}
