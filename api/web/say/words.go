package say

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"
	"time"

	"rimledger/models"
	"rimledger/models/units"
)

// DateElement writes a day that does not break at the end of a line, with its date for
// programs.
func DateElement(t time.Time, z Clock) template.HTML {
	return template.HTML(
		`<time datetime="` + t.In(z.Location).
			Format(time.DateOnly) +
			`">` + template.HTMLEscapeString(z.Date(t)) + `</time>`,
	)
}

// OdometerText writes what the counter showed, nothing where that is not known.
func OdometerText(o models.Odometer, z Clock) string {
	if !o.Known {
		return ""
	}
	return z.WriteTypedDistance(o.Value, o.Text)
}

// AckText says until when a finding is quiet.
func AckText(a *models.Ack, z Clock) string {
	if a.Booked != "" {
		return "booked in for " + z.Weekday(a.Booked)
	}
	return "acknowledged until " + z.Date(a.Until)
}

// Kilograms writes a bound of mass, in pounds too where that is its round number.
func Kilograms(kg int) string {
	s := units.Thousands(int64(kg)) + " kg"
	if lb := int64(math.Round(units.Mass(1000*kg).Ounces() / 16)); lb > 0 && lb%1000 == 0 {
		s += " (" + units.Thousands(lb) + " lb)"
	}
	return s
}

// Plural writes a number with its noun.
func Plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// Plain returns a code such as wheel_check as words.
func Plain(code string) string { return strings.ReplaceAll(code, "_", " ") }

func ClassName(c models.Class) string { return Plain(string(c)) }

func RoleName(r models.AxleRole) string {
	switch r {
	case models.RoleSteer:
		return "steer axle"
	case models.RoleDrive:
		return "drive axle"
	default:
		return "free-rolling axle"
	}
}

// UrgencySlug names an urgency in class names of the stylesheet.
func UrgencySlug(u models.Urgency) string {
	if u == models.None {
		return "none"
	}
	return strings.ReplaceAll(u.String(), " ", "-")
}

// Ago says how long before now t was, in the largest unit that fits.
func Ago(t, now time.Time) string {
	d := now.Sub(t)
	switch {
	case d < 0:
		return "in " + span(-d)
	case d < time.Minute:
		return "just now"
	default:
		return span(d) + " ago"
	}
}

func span(d time.Duration) string {
	days := int(d.Hours() / 24)
	switch {
	case d < time.Hour:
		return Plural(max(int(d.Minutes()), 1), "minute", "minutes")
	case days < 2:
		return Plural(int(d.Hours()), "hour", "hours")
	case days < 60:
		return Plural(days, "day", "days")
	case days < 730:
		return Plural(days/30, "month", "months")
	default:
		return Plural(days/365, "year", "years")
	}
}

var ObservationNames = map[models.ObservationCode]string{
	models.ObsSmooth: "smooth to the hand", models.ObsCupping: "cups", models.ObsFeathering: "feather edges",
	models.ObsHeelToe: "heel and toe", models.ObsFlatSpot: "flat spot", models.ObsDiagonal: "diagonal wear",
	models.ObsErosion: "erosion along a rib", models.ObsRibDepression: "rib worn low", models.ObsAlternateLug: "every other lug low",
	models.ObsShoulderStep: "step on a shoulder rib", models.ObsDepression: "patch worn into a shoulder",
	models.ObsCut: "cut, not to the cord", models.ObsCutToCord: "cut to the cord", models.ObsBulge: "bulge",
	models.ObsExposedCord: "cord showing", models.ObsSeparation: "tread or sidewall separating", models.ObsFlat: "flat",
	models.ObsLeak: "leak heard or felt", models.ObsContact: "touches body or its dual", models.ObsWedged: "object between the duals",
	models.ObsLooseNuts: "nuts loose or missing", models.ObsCrackedWheel: "wheel cracked", models.ObsNail: "nail or screw",
	models.ObsCracks: "sidewall cracks", models.ObsMissingWeight: "balance weight missing", models.ObsValve: "valve or cap bad",
	models.ObsWearBar: "level with the wear bar", models.ObsDirt: "mud, ice or stones in the wheel",
	models.ObsDamperLeak: "damper leaks", models.ObsLooseness: "bearing, kingpin or tie rod loose", models.ObsPull: "runs to one side", models.ObsBrakeDrag: "a brake drags, locks or runs hot",
}

func ObservationName(c models.ObservationCode) string {
	if n, ok := ObservationNames[c]; ok {
		return n
	}
	return Plain(string(c))
}

var EventNames = map[models.EventKind]string{
	models.KindInspection: "Inspection", models.KindOdometer: "Odometer", models.KindFit: "Tires fitted",
	models.KindRemoval: "Tires taken off", models.KindRotation: "Rotation", models.KindBalance: "Balance job",
	models.KindRepair: "Repair", models.KindAlignment: "Alignment", models.KindRetorque: "Nuts re-torqued",
	models.KindService: "Work on running gear", models.KindVibration: "Vibration report", models.KindClearance: "Damage cleared",
	models.KindTireMove: "Tire moved", models.KindWheelCheck: "Bead seat and run-out", models.KindVoid: "Entry withdrawn",
}

func EventName(k models.EventKind) string { return EventNames[k] }

// Explanations say in two sentences what a finding means and what to make of it.
var Explanations = map[models.FindingCode]string{
	models.BelowLegal: "The shallowest place measured is below the minimum of the rule that applies at this " +
		"depot. The vehicle should not run until the tire is changed; the rule in force where it runs, and a " +
		"licensed inspector, decide.",
	models.NearLegal: "The shallowest place measured is at the legal number, or so close that a few " +
		"readings cannot tell. Measure all around the tire, and change it before the vehicle is inspected.",
	models.BelowPull: "The tread is at or below the depth at which your policy takes a tire off. It may " +
		"still be legal; plan the change so that the casing can be retreaded and wet grip is kept.",
	models.NearPull: "The tread is close above the pull point of your policy. Watch it at each inspection " +
		"and order ahead.",
	models.EstimatedBelow: "Nobody has measured this tire lately. At the wear seen so far its thinnest groove is " +
		"below the legal minimum by now, so it must be measured before the vehicle runs again.",
	models.PullForecast: "At the wear seen so far this tire reaches its pull point soon. The date is an " +
		"estimate within a range; a fresh reading narrows it.",
	models.Damage: "Hand or eye found damage with which a tire must not run. It stays off the road until " +
		"a named person clears it or the tire is replaced.",
	models.DamageMinor: "Hand or eye found something that does not take the tire off the road today. Have it " +
		"looked at, since it may grow.",
	models.PressureLow: "The pressure is clearly below the target for this axle. Find the reason before " +
		"adding air, and look at the tire for signs of having run low.",
	models.RunFlat: "At this pressure the tire counts as run flat, and adding air can make it burst. " +
		"Deflate it fully before the wheel comes off, demount it and look inside.",
	models.DualPressureApart: "The two tires of a dual pair carry different pressures. The fuller one carries the " +
		"load and both wear unevenly.",
	models.DualMismatch: "The two tires of a dual pair differ in depth or diameter more than the policy " +
		"allows. The taller one carries the load, the other is dragged.",
	models.AxleMismatch: "The tires on the two sides of an axle differ in depth more than the policy allows. " +
		"Pair them closer at the next change.",
	models.NeverInspected: "There is no tread reading of this vehicle yet. Until there is one nothing can be " +
		"said about it.",
	models.InspectionOverdue: "The last tread reading is older than the policy allows. Wear and damage since then " +
		"are not known.",
	models.PressureOverdue: "The last pressure reading is older than the policy allows. Low pressure does more " +
		"harm than wear, and it is quick to check.",
	models.NotBalanced: "The assembly was fitted or taken apart and no balance job is recorded since. If it " +
		"was balanced, record the job; otherwise balance it.",
	models.BalanceOverLimit: "The last balance job left more unbalance than the limit that applied. Check seating, " +
		"run-out and the wheel, then balance again.",
	models.RebalanceOverdue: "The last balance job is further back than the policy allows. Weights get lost and " +
		"wear moves the heavy spot.",
	models.WeightMissing: "A balance weight was seen to be missing. The assembly is out of balance by about " +
		"that weight.",
	models.RotationOverdue: "The tires have stayed in their places longer than the policy allows. Rotating evens " +
		"out what each place does to its tire.",
	models.AlignmentOverdue: "The last alignment is further back than the policy allows. A small error wears a " +
		"tire away long before it is felt at the wheel.",
	models.RetorqueDue: "Wheels were off and the nuts have not been checked since. Clamping settles in the " +
		"first distance; check with a torque wrench.",
	models.AgeWatch: "The date in the tire's identification number makes it old enough to watch. Rubber " +
		"ages even in storage; look for cracks.",
	models.RimOverLegal: "The rim runs out by more than a published inspection standard allows. Measure it " +
		"again on a clean hub; the rule in force where the vehicle runs, and a licensed inspector, decide.",
	models.AgeLimit: "The tire is past the age at which your policy, or a rule, takes tires off. Depth " +
		"says nothing about this.",
	models.RetreadBarred: "A retreaded or regrooved tire is where a rule does not allow one. Move or " +
		"change it.",
	models.UnevenWear: "The grooves or the places around the tire differ by more than the gauge explains. " +
		"The evidence names the pattern and what to look at first.",
	models.NoWinterMark: "The law wants tires with the mountain and snowflake mark here in winter, and the record " +
		"has none for these. Look at the sidewall: record the mark if it is there, otherwise fit winter tires.",
	models.SuspectImbalance: "What was measured and felt points to imbalance more than to other causes. Check " +
		"pressure, looseness, dampers and seating first, since weights cannot cure those.",
	models.SuspectAlignment: "The way the tread is worn across points to alignment. Measure toe and camber, and " +
		"look for worn joints first.",
	models.SuspectDampers: "The way the tread is worn around points to dampers or looseness. Replace what is " +
		"worn before balancing.",
	models.SuspectPressure: "The way the tread is worn across points to a wrong pressure. Check the target for " +
		"the load that is carried.",
	models.SuspectOther: "The wear has a cause that the readings alone do not name. Look at the evidence and " +
		"at the vehicle.",
	models.FastWear: "This tire wears faster than others like it in this fleet. Look for the reason while " +
		"there is rubber left to save.",
	models.VibrationOpen: "A driver reported a shake that nobody has settled yet. The speeds and where it is " +
		"felt say where to look first.",
	models.SuspectData: "Some readings contradict one another. Measure again before acting on them.",
	models.EmptyPosition: "No tire is recorded at this place. Record which tire is there, or that the place " +
		"is empty on purpose.",
}

func Explain(c models.FindingCode) string { return Explanations[c] }

// FindingCodes lists the codes in the order of their words.
var FindingCodes = func() []models.FindingCode {
	var out []models.FindingCode
	for c := range Explanations {
		out = append(out, c)
	}
	slices.Sort(out)
	return out
}()

// Urgencies are the four words, soonest first.
var Urgencies = []models.Urgency{models.OffTheRoad, models.DoNow, models.Plan, models.Watch}
