package bench

import "rimledger/api/web/say"

// surfaceSteps are what a rim needs before adhesive weights stick (common practice, no source).
var surfaceSteps = []string{
	"bare, sound metal: no wax, dust, rust or old tape",
	"wiped with alcohol and water, dry",
	"rim and weights at room temperature",
	"pressed on hard over the whole length, not peeled up again",
}

// cautions are those of the job; the page shows the first unfolded.
func (b benchSubject) cautions() []string {
	out := []string{
		"Hood down, eye protection, no loose clothing; take out stones and mud first and never defeat a guard.",
		"Work on the machine itself: de-energize it and lock it out first.",
		"On the vehicle: secure the opposite drive wheel, keep the speed of a spinning wheel low, nobody in line " +
			"with it.",
		"Wash hands after handling lead; lead weights are restricted in some places.",
	}
	if b.Vehicle != nil {
		out = append(out, say.CautionJack)
	}
	return append(out, say.CautionLocal)
}
