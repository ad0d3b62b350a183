package calc

import (
	"fmt"
	"time"

	"rimledger/models"
	"rimledger/models/tiresize"
	"rimledger/models/wear"
)

// tireCalculators lists the computations about what is written on a tire.
func tireCalculators() []Calculator {
	return []Calculator{
		calculator("tire-size",
			"Diameter, rolling circumference and loads of a size designation.",
			sizeInput{Size: "295/75R22.5 144/141L"}, tireSize),

		calculator("tire-made",
			"The week a tire was made in, by its identification number.",
			madeInput{TIN: "DOT B9JA XK2 3613"}, tireMade),

		calculator("treadwear",
			"The mileage that nine depths of a treadwear course project to, and the grade it would give.",
			treadwearExample, treadwear),
	}
}

// sizeOf parses a size and names it where it is none.
func sizeOf(text string) (tiresize.Designation, error) {
	d, err := tiresize.Parse(text)
	if err != nil {
		var f models.Faults
		f.Add("size", text, "is no size: %v", err)
		err = f.Err("the size")
	}
	return d, err
}

type sizeInput struct{ Size string }

type sizeOutput struct {
	Size                   string
	SectionWidthMM         float64
	DiameterMM             float64
	CircumferenceMM        float64
	RollingCircumferenceMM float64
	LoadSingleKG           int
	LoadDualKG             int
	SpeedKMH               int
}

func tireSize(in sizeInput) (sizeOutput, error) {
	d, err := sizeOf(in.Size)
	if err != nil {
		return sizeOutput{}, err
	}

	out := sizeOutput{
		Size:                   d.String(),
		SectionWidthMM:         d.SectionWidth().Millimetres(),
		DiameterMM:             d.Diameter().Millimetres(),
		CircumferenceMM:        d.Circumference().Millimetres(),
		RollingCircumferenceMM: d.RollingCircumference().Millimetres(),
	}

	out.LoadSingleKG, out.LoadDualKG = d.MaxLoad()
	out.SpeedKMH, _ = d.MaxSpeed()

	return out, nil
}

type madeInput struct {
	TIN string
	On  string // the day on which it is read, such as 2026-11-30; empty: today
}

type madeOutput struct {
	Made      string // the week in words
	FromDay   string // its first day, a Sunday; empty where the year is not known
	Ambiguous bool   // the end of the number could also be the code in Or
	Or        string // the week in words by a code of before 2000
	Retread   bool   // the tread, not the casing, was made then
}

func tireMade(in madeInput) (madeOutput, error) {
	var f models.Faults
	now := time.Now()
	if in.On != "" {
		day, err := time.Parse(time.DateOnly, in.On)
		if err != nil {
			f.Add("on", in.On, "must be a day such as 2026-11-30, or empty for today")
			return madeOutput{}, f.Err("the day")
		}
		now = day
	}

	w, err := tiresize.ParseTIN(in.TIN, now)
	if err != nil {
		f.Add("tin", in.TIN, "is refused: %v", err)
		return madeOutput{}, f.Err("the number")
	}

	out := madeOutput{Made: w.String(), Ambiguous: w.Ambiguous, Retread: w.Retread}
	if w.Ambiguous {
		out.Or = w.Older().String()
	}
	if day, ok := w.Starts(); ok {
		out.FromDay = day.Format(time.DateOnly)
	}

	return out, nil
}

type treadwearInput struct {
	DepthsMils [9]float64 // mean groove depth after break-in and every 800 miles
	Severity   float64    // of the course; 1: unadjusted
	BaseRate   float64    // base course wear rate, mils per 1000 miles
}

var treadwearExample = treadwearInput{Severity: 1, BaseRate: 1.34,
	DepthsMils: [9]float64{350.0, 343.9, 338.2, 332.1, 326.4, 320.0, 314.3, 308.1, 302.2}}

type treadwearOutput struct {
	Projection wear.Treadwear
	Percent    float64 // of the nominal 30,000 miles
	Grade      int
	Note       string
}

const treadwearNote = "By the formulas of 49 CFR 575.104(e)(2) as remembered; for checking a wear line, not for " +
	"grading a tire."

func treadwear(in treadwearInput) (treadwearOutput, error) {
	if !(in.BaseRate > 0 && in.BaseRate <= 100) {
		var f models.Faults
		f.Add("base_rate", fmt.Sprint(in.BaseRate),
			"must be a wear rate above 0 and up to 100 mils per 1000 miles, such as 1.34")
		return treadwearOutput{}, f.Err("treadwear")
	}

	t, err := wear.ProjectTreadwear(in.DepthsMils, in.Severity)
	if err != nil {
		return treadwearOutput{}, err
	}

	out := treadwearOutput{Projection: t, Note: treadwearNote}
	out.Percent, out.Grade = wear.TreadwearGrade(t.Miles, in.BaseRate)

	return out, nil
}
