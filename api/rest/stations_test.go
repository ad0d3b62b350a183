package rest_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/uuid"
)

// around is a reading of 1L: a wave of n dips, 2.5 mm from crest to dip, in each groove,
// at these angles.
func around(n int, degrees []float64) object {
	var row []string
	for _, deg := range degrees {
		row = append(row, fmt.Sprintf("%.1f mm", 9+1.25*math.Cos(float64(n)*deg*math.Pi/180)))
	}
	return object{"position": "1L", "depths": [][]string{row, row, row}}
}

func (y truckDepot) reading(r object) object {
	return object{"id": uuid.NewString(), "vehicle_id": y.vehicle, "at": noon.Add(-60e9), "odometer": "101,000 mi",
		"gauge": object{"resolution": "0.1 mm"}, "readings": []object{r}}
}

// Places around a tire are typed as angles, by the clock or by tape, come back as typed
// and as angles, and reach the account: nine dips, which eight even places take for one or
// seven, are told.
func TestStationsOfAReading(t *testing.T) {
	t.Parallel()

	degrees := []float64{0, 20, 80, 100, 200, 290, 320, 330}
	for name, stations := range map[string][]string{
		"angles": {"0°", "20°", "80", "100 deg", "200°", "290°", "320°", "330°"},
		"clock":  {"12:00", "12:40", "2:40", "3:20", "6:40", "9:40", "10:40", "11 o'clock"},
		// 3240 mm a turn: 9 mm a degree.
		"tape": {"0 mm", "180 mm", "720 mm", "900 mm", "1800 mm", "2610 mm", "2880 mm", "2970 mm"},
	} {
		y := serve(t).truckDepot()
		r := around(9, degrees)
		r["stations"] = stations
		if name == "tape" {
			r["tread_around"] = "3240 mm"
		}

		a := y.do("POST", "/inspections", y.reading(r)).want(201)
		for k, deg := range degrees {
			if got := a.at(fmt.Sprintf("event.readings.0.stations_deg.%d", k)); got != fmt.Sprint(deg) {
				t.Errorf("%s: %s is at %s degrees, want %g", name, stations[k], got, deg)
			}
			if got := a.at(fmt.Sprintf("event.readings.0.stations.%d", k)); got != stations[k] {
				t.Errorf("%s: %s comes back as %q", name, stations[k], got)
			}
		}

		o := y.do("GET", "/vehicles/"+y.vehicle+"/positions/1L", nil).want(200)
		if o.at("account.could.0") != "9" || o.at("account.could.1") != "" || o.at("account.stations") != "8" {
			t.Errorf("%s: the account sees %s dips on %s places: %s", name, o.at("account.could"),
				o.at("account.stations"), o.raw)
		}
	}
}

// What even places cannot tell is in the account with the question to count by hand; the
// count wins and ends the question.
func TestAccountAsksForTheCount(t *testing.T) {
	t.Parallel()
	y := serve(t).truckDepot()

	r := around(9, []float64{0, 45, 90, 135, 180, 225, 270, 315})
	y.do("POST", "/inspections", y.reading(r)).want(201)
	o := y.do("GET", "/vehicles/"+y.vehicle+"/positions/1L", nil).want(200)
	if got := o.at("account.count_dips"); !strings.HasPrefix(got, "1, 7 or 9 dips look alike at these 8 places") {
		t.Errorf("asks %q", got)
	}

	r["observations"] = []object{{"code": "cupping", "count": 9}}
	body := y.reading(r)
	body["confirmed"], body["at"] = []string{"same_as_last"}, noon
	y.do("POST", "/inspections", body).want(201)
	o = y.do("GET", "/vehicles/"+y.vehicle+"/positions/1L", nil).want(200)
	if o.at("account.count_dips") != "" || o.at("account.dips") != "9" {
		t.Errorf("counted: asks %q, %s dips", o.at("account.count_dips"), o.at("account.dips"))
	}
}

// What cannot be is refused with its field.
func TestBadStations(t *testing.T) {
	t.Parallel()
	y := serve(t).truckDepot()

	for _, c := range []struct {
		name     string
		stations []string
		tape     string
		field    string
		want     string
	}{
		{"twice", []string{"0", "100", "100.5"}, "", "readings[0].stations[2]", "same place"},
		{"twice across the valve", []string{"0", "100", "359.5"}, "", "readings[0].stations[2]", "same place"},
		{"out of order", []string{"0", "200", "100"}, "", "readings[0].stations[2]", "comes before"},
		{"two", []string{"0", "180"}, "", "readings[0].stations", "at least 3"},
		{"one too few", []string{"0", "120", "240"}, "", "readings[0].stations", "must be 4"},
		{"a tape without its turn", []string{"0 mm", "900 mm", "1800 mm"}, "", "readings[0].stations[1]", "once around"},
		{"beyond the tape", []string{"0 mm", "900 mm", "3300 mm"}, "3240 mm", "readings[0].stations[2]", "less than"},
		{"no place", []string{"0", "here", "200"}, "", "readings[0].stations[1]", "write an angle"},
	} {
		row := make([]string, len(c.stations))
		if c.name == "one too few" {
			row = append(row, "")
		}
		for i := range row {
			row[i] = "9 mm"
		}

		r := object{"position": "1L", "depths": [][]string{row, row, row}, "stations": c.stations}
		if c.tape != "" {
			r["tread_around"] = c.tape
		}

		a := y.do("POST", "/inspections", y.reading(r))
		if a.status != 422 || strings.TrimPrefix(a.at("errors.0.field"), "body.") != c.field ||
			!strings.Contains(a.at("errors.0.remedy"), c.want) {
			t.Errorf("%s: %d %s; want %s at %s", c.name, a.status, a.raw, c.want, c.field)
		}
	}
}
