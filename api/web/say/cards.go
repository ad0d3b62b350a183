package say

import (
	"strings"
	"time"

	"rimledger/models"
)

// Booked is the booking of a vehicle that is in force.
type Booked struct {
	Day  string // civil date
	Zone Clock
	New  int // findings that came since
}

func NewBooked(findings []models.Finding, now time.Time, z Clock) *Booked {
	b := models.StandingBooking(findings, now)
	if b == nil {
		return nil
	}
	out := Booked{Day: b.Booked, Zone: z}
	for _, f := range findings {
		if f.NewSinceBooking(now) {
			out.New++
		}
	}
	return &out
}

// Card is a finding as it is shown, or one thing found on several wheels.
type Card struct {
	Finding models.Finding
	Zone    Clock
	Quiet   bool
	New     bool   // since its vehicle was booked in
	Alone   bool   // on a page of its own
	Wheels  []Card // those of which the same is found; empty where Finding is the only one
}

func NewCard(f models.Finding, z Clock, now time.Time, alone bool) Card {
	return Card{Finding: f, Zone: z, Quiet: f.Quiet(now), New: f.NewSinceBooking(now), Alone: alone}
}

// NewGroupCard returns one card for what is found on several wheels: the titles, jobs and
// cautions stand once, the evidence with each wheel.
func NewGroupCard(g models.FindingGroup, z Clock, now time.Time) Card {
	c := NewCard(g.Findings[0], z, now, false)
	if len(g.Findings) == 1 {
		return c
	}

	for _, f := range g.Findings {
		c.Wheels = append(c.Wheels, NewCard(f, z, now, false))
		if f.NewSinceBooking(now) && !c.New {
			c.New, c.Finding.Booking = true, f.Booking
		}
	}
	c.Finding.Title, c.Finding.Evidence = g.Title(), nil
	c.Finding.FirstJob = strings.Join(g.FirstJobs(), " ")
	c.Finding.Safety = strings.Join(g.Safety(), " ")
	c.Finding.Since, c.Finding.DueAt = g.Since(), g.DueAt()
	return c
}

// DropRepeatedCautions removes the cautions that a card further up the same page
// shows already: repeated cautions get ignored.
func DropRepeatedCautions(cards []Card) {
	said := map[string]bool{}
	for i := range cards {
		var fresh []string

		all := true
		for sentence := range strings.SplitSeq(cards[i].Finding.Safety, ". ") {
			sentence = strings.TrimSuffix(sentence, ".")
			if said[sentence] {
				all = false
			} else if sentence != "" {
				fresh = append(fresh, sentence+".")
			}
			said[sentence] = true
		}

		if !all {
			fresh = append(fresh, "Follow the cautions above, too.")
		}
		cards[i].Finding.Safety = strings.Join(fresh, " ")
	}
}

// Bench is where the first job of a finding about balance is done, empty for others.
func (c Card) Bench() string {
	f := c.Finding
	if len(c.Wheels) > 0 {
		return ""
	}

	at := "/vehicles/" + string(f.VehicleID)
	switch f.Code {
	case models.VibrationOpen:
		return at + "/find-wheel"
	case models.NotBalanced,
		models.BalanceOverLimit,
		models.RebalanceOverdue,
		models.WeightMissing,
		models.SuspectImbalance:
		if f.Position != "" {
			return at + "/bench/" + string(f.Position)
		}
	}

	return ""
}
