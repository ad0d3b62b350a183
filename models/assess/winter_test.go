package assess_test

import (
	"strings"
	"testing"
	"time"

	"rimledger/models"
	"rimledger/models/assess"
	"rimledger/models/legal"
	"rimledger/models/units"
)

// on returns the noon of a day in UTC.
func on(day string) time.Time {
	t, err := time.Parse(time.DateOnly, day)
	if err != nil {
		panic(err)
	}
	return t.Add(12 * time.Hour)
}

// TestWinterTires: where and when the law wants marked winter tires, on both sides of its
// days. Austria, KFG § 102(8a): trucks over 3.5 t on one drive axle at least, 1 November to
// 15 April, buses to 15 March. Sweden, Traffic Ordinance ch. 4 s. 18 b: over 3.5 t, 10
// November to 10 April. Norway's road authority: over 3.5 t on all axles, 15 November to 31
// March. Quebec: 1 December to 15 March, light vehicles. Finland, Road Traffic Act s. 105,
// Austria up to 3.5 t and Germany, StVO § 2(3a): in winter conditions, to be planned;
// Germany names no months.
func TestWinterTires(t *testing.T) {
	t.Parallel()

	truck := func(code string, class models.Class, kg int) func() *scene {
		return func() *scene {
			s := healthy(class, code, models.Axle{Steered: true}, models.Axle{Driven: true}, models.Axle{Driven: true})
			s.Vehicle.MaxMassKG = kg
			return s
		}
	}
	light := func(code string) func() *scene { return func() *scene { return car(code) } }
	trailer := func(code string, kg int) func() *scene {
		return func() *scene {
			s := healthy(models.Trailer, code, models.Axle{}, models.Axle{})
			s.Vehicle.MaxMassKG = kg
			return s
		}
	}

	for _, tc := range []struct {
		name string
		of   func() *scene
		day  string
		mark string // places with the mark
		want string // urgency and places; "": none
	}{
		{"Austria, truck, long before", truck("AT", models.RigidTruck, 18000), "2026-10-01", "", ""},
		{"a month ahead", truck("AT", models.RigidTruck, 18000), "2026-10-02", "", "plan 2L, 2R"},
		{"the day before", truck("AT", models.RigidTruck, 18000), "2026-10-31", "", "plan 2L, 2R"},
		{"the first day", truck("AT", models.RigidTruck, 18000), "2026-11-01", "", "do now 2L, 2R"},
		{"the last day", truck("AT", models.RigidTruck, 18000), "2027-04-15", "", "do now 2L, 2R"},
		{"the day after", truck("AT", models.RigidTruck, 18000), "2027-04-16", "", ""},
		{"one drive axle marked", truck("AT", models.RigidTruck, 18000), "2026-12-01", "3L 3R", ""},
		{"half of one", truck("AT", models.RigidTruck, 18000), "2026-12-01", "3L", "do now 3R"},
		{"the steer axle marked", truck("AT", models.RigidTruck, 18000), "2026-12-01", "1L 1R", "do now 2L, 2R"},
		{"a bus on 15 March", truck("AT", models.Bus, 18000), "2027-03-15", "", "do now 2L, 2R"},
		{"a bus on 16 March", truck("AT", models.Bus, 18000), "2027-03-16", "", ""},
		{"just over 3.5 t", truck("AT", models.LightTruck, 3501), "2026-12-01", "", "do now 2L, 2R"},
		{"3.5 t: in winter conditions, all wheels", truck("AT", models.LightTruck, 3500), "2026-12-01", "1L 1R",
			"plan 2L, 2R, 3L, 3R"},
		{"a trailer in Austria", trailer("AT", 18000), "2026-12-01", "", ""},

		{"Sweden, 9 November", truck("SE", models.RigidTruck, 18000), "2026-11-09", "", "plan 1L, 1R, 2L, 2R, 3L, 3R"},
		{"10 November", truck("SE", models.RigidTruck, 18000), "2026-11-10", "", "do now 1L, 1R, 2L, 2R, 3L, 3R"},
		{"10 April", trailer("SE", 18000), "2027-04-10", "", "do now 1L, 1R, 2L, 2R"},
		{"11 April", trailer("SE", 18000), "2027-04-11", "", ""},
		{"a car in Sweden", light("SE"), "2026-12-01", "1L 1R 2L", "plan 2R"},
		{"a car in Sweden in April", light("SE"), "2027-04-01", "", ""},

		{"Norway, 15 November", trailer("NO", 18000), "2026-11-15", "", "do now 1L, 1R, 2L, 2R"},
		{"Norway, 14 November", trailer("NO-N", 18000), "2026-11-14", "", "plan 1L, 1R, 2L, 2R"},
		{"Norway, 31 March", truck("NO-N", models.Tractor, 18000), "2027-03-31", "1L 1R 2L 2R 3L", "do now 3R"},
		{"Norway, 1 April", truck("NO", models.Tractor, 18000), "2027-04-01", "", ""},
		{"a trailer of 3.5 t in Norway", trailer("NO", 3500), "2026-12-01", "", ""},

		{"Finland: drive axles that are not steered", truck("FI", models.RigidTruck, 18000), "2026-12-01", "",
			"plan 2L, 2R, 3L, 3R"},
		{"Finland in April", truck("FI", models.RigidTruck, 18000), "2027-04-01", "", ""},
		{"Germany: front steering axle and drive axles", truck("DE", models.RigidTruck, 18000), "2026-12-01", "2L 2R",
			"plan 1L, 1R, 3L, 3R"},
		{"Germany in July", truck("DE", models.RigidTruck, 18000), "2027-07-01", "", ""},
		{"Quebec, 1 December", light("CA-QC"), "2026-12-01", "", "do now 1L, 1R, 2L, 2R"},
		{"Quebec, 15 March inclusive", light("CA-QC"), "2027-03-15", "", "do now 1L, 1R, 2L, 2R"},
		{"Quebec, 16 March", light("CA-QC"), "2027-03-16", "", ""},
		{"a heavy truck in Quebec", truck("CA-QC", models.RigidTruck, 18000), "2026-12-01", "", ""},
		{"where no rule is known", light("US"), "2026-12-01", "", ""},
	} {
		s := tc.of()
		s.Now, s.Policy = on(tc.day), models.Policy{DueDays: 14, ForecastDays: 30}
		for _, at := range strings.Fields(tc.mark) {
			s.at(models.Position(at)).Tire.Winter = true
		}

		got := ""
		for _, f := range assess.Assess(s.Snapshot).Findings {
			if f.Code == models.NoWinterMark {
				where, _, _ := strings.Cut(strings.TrimPrefix(f.Title, "no winter mark in the record at "), ";")
				got += f.Urgency.String() + " " + where
			}
		}
		if got != tc.want {
			t.Errorf("%s, %s: %q, want %q", tc.name, tc.day, got, tc.want)
		}
	}
}

// TestWinterTiresAreCheckedAgain: the first check after the summer is a month before the
// Austrian season, the one in it on the day after its end.
func TestWinterTiresAreCheckedAgain(t *testing.T) {
	t.Parallel()

	s := healthy(models.RigidTruck, "AT", models.Axle{Steered: true}, models.Axle{Driven: true})
	s.Policy = models.Policy{DueDays: 14, ForecastDays: 30}
	for day, want := range map[string]string{"2026-08-01": "2026-10-02", "2026-10-05": "2026-11-01",
		"2026-12-01": "2027-04-16"} {
		s.Now = on(day)
		if next := assess.Assess(s.Snapshot).NextCheck; next == nil || next.Format(time.DateOnly) != want {
			t.Errorf("after %s it is checked again on %v, want %s", day, next, want)
		}
	}
}

// TestCitationsByJurisdiction: damage, run flat, mixed tires and a bus's retread cite the
// rule of the place or, where none was read, say that it is practice, or whose rule it is.
// 49 CFR 393.75(a)(2) names separation and no bulge; GB C&U reg. 27(1)(d) names lumps;
// 29 CFR 1910.177 holds in the United States.
func TestCitationsByJurisdiction(t *testing.T) {
	t.Parallel()

	damaged := func(code string, o models.ObservationCode) *scene {
		s := tractor()
		s.Depot.Jurisdiction = code
		s.at("1L").State.Damage = []models.ActiveDamage{
			{Point: models.Point{At: ago(day)}, Observation: models.Observation{Code: o}},
		}
		return s
	}
	flat := func(code string) *scene {
		s := tractor()
		s.Depot.Jurisdiction = code
		s.reading("1L").Pressure = psi(70)
		return s
	}
	mixed := func(code string) *scene {
		s := tractor()
		s.Depot.Jurisdiction, s.at("1R").Tire.Size = code, "9.00-20"
		return s
	}
	retread := func(code string) *scene {
		s := healthy(models.Bus, code, models.Axle{Steered: true}, models.Axle{Driven: true})
		s.at("1L").Tire.LifeIndex = 1
		return s
	}

	for _, tc := range []struct {
		name  string
		scene *scene
		code  models.FindingCode
		says  string
		not   string // what it does not name, separated by |
	}{
		{"bulge, US", damaged("US", models.ObsBulge), models.Damage,
			"common practice; no rule of United States (federal rules) about this has been read", "reg. 27|CFR"},
		{"separation, US", damaged("US", models.ObsSeparation), models.Damage, "(49 CFR 393.75(a)(2), read",
			"foreign|27("},
		{"flat, a state", damaged("US-MD", models.ObsFlat), models.Damage, "(49 CFR 393.75(a)(3), read", "foreign"},
		{"cord, US", damaged("US", models.ObsExposedCord), models.Damage, "(49 CFR 393.75(a)(1), read", "foreign"},
		{"cut, US", damaged("US", models.ObsCutToCord), models.Damage, "(49 CFR 393.75(a)(4), read", "foreign"},
		{"bulge, Britain", damaged("GB", models.ObsBulge), models.Damage, "reg. 27(1)(d), read", "CFR|foreign"},
		{"cut, Britain", damaged("GB", models.ObsCutToCord), models.Damage, "reg. 27(1)(c), read", "CFR"},
		{"cord, Britain", damaged("GB", models.ObsExposedCord), models.Damage, "reg. 27(1)(e), read", "CFR"},
		{"leak, Britain", damaged("GB", models.ObsLeak), models.Damage, "common practice; no rule of Great Britain",
			"CFR"},
		{"separation, Germany", damaged("DE", models.ObsSeparation), models.Damage,
			"common practice; no rule of Germany", "CFR|reg."},
		{"loose nuts", damaged("US", models.ObsLooseNuts), models.Damage, "common practice", "CFR"},
		{"wedged, US", damaged("US", models.ObsWedged), models.Damage, "roadside out-of-service criteria", "foreign"},
		{"run flat, US", flat("US"), models.RunFlat, "(29 CFR 1910.177, read", "foreign"},
		{"run flat, Germany", flat("DE"), models.RunFlat,
			"foreign rule, used as good practice: 29 CFR 1910.177 (United States)", ""},
		{"mixed, Virginia", mixed("US-VA"), models.AxleMismatch, "(19VAC30-70-130, 19VAC30-70-500, read", "foreign"},
		{"mixed, US", mixed("US"), models.AxleMismatch, "foreign rule, used as good practice: 19VAC30-70-130", ""},
		{"retread, US", retread("US"), models.RetreadBarred, "(49 CFR 393.75(d); read", "foreign"},
		{"retread, Britain", retread("GB"), models.RetreadBarred,
			"foreign rule, used as good practice: 49 CFR 393.75(d) (United States)", ""},
	} {
		f := one(t, tc.scene, tc.code)
		all := f.Notice
		for _, e := range f.Evidence {
			all += " " + e.Source
		}

		if !strings.Contains(f.Notice, tc.says) || !strings.Contains(f.Notice, legal.Notice) {
			t.Errorf("%s: notice %q, want %q", tc.name, f.Notice, tc.says)
		}
		for _, not := range strings.Split(tc.not, "|") {
			if not != "" && strings.Contains(all, not) {
				t.Errorf("%s: %q names %q", tc.name, all, not)
			}
		}
	}

	s := damaged("GB", models.ObsBulge)
	s.at("1L").State.Damage = append(s.at("1L").State.Damage, models.ActiveDamage{
		Point: models.Point{At: ago(day)}, Observation: models.Observation{Code: models.ObsLooseNuts}})
	if n := one(t, s, models.Damage).Notice; !strings.Contains(n, "27(1)(d)") || !strings.Contains(n, "loose") ||
		strings.Count(n, legal.Notice) != 1 {
		t.Errorf("two damages: %q; want both rules and once who decides", n)
	}

	style := units.Style{Set: units.Metric}
	text := style.Render(one(t, flat("DE"), models.RunFlat).Evidence[1].Source)
	if strings.Contains(text, "policy; 29 CFR") {
		t.Errorf("a German finding cites the rule as its own: %q", text)
	}
}
