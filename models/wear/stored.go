package wear

import (
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"math"
)

// storedForm is the first byte of the stored form. A change of the form needs another.
const storedForm = 1

// floats, counts, switches and words together point to every field of s, in the order
// of the stored form.
func (s *State) floats() [26]*float64 {
	p := &s.Prior
	return [26]*float64{&p.RateMean, &p.RateSD, &p.DriftSD, &p.NewDepthSD, &p.BreakInKM, &p.BreakInMM, &p.BreakInSDMM,
		&p.OutlierZ, &s.XKM, &s.DepthMM, &s.RateMM, &s.DepthInfo, &s.RateInfo, &s.LagMm, &s.NewMM, &s.BreakInKM,
		&s.BreakInMM, &s.StartKM, &s.FirstMM, &s.FirstVar, &s.FirstKM, &s.LastMM, &s.ResolutionMM, &s.ChiSq, &s.Runs,
		&s.LastZ}
}

func (s *State) counts() [6]*int {
	return [6]*int{&s.Count, &s.Places, &s.DF, &s.Outliers, &s.Shifts, &s.Prior.Source.Fitments}
}

func (s *State) switches() [2]*bool { return [2]*bool{&s.Pending, &s.Prior.Source.Embedded} }

func (s *State) words() [2]*string { return [2]*string{&s.Prior.Source.Level, &s.Prior.Source.Status} }

// MarshalJSON writes s exactly, as a string of its numbers in base64. A state is read
// and written with every reading of a tire, which takes half as long in this form.
// Replaying the readings gives all of it again.
func (s State) MarshalJSON() ([]byte, error) {
	raw := append(make([]byte, 0, 256), storedForm)
	for _, f := range s.floats() {
		raw = binary.BigEndian.AppendUint64(raw, math.Float64bits(*f))
	}

	for _, n := range s.counts() {
		raw = binary.AppendVarint(raw, int64(*n))
	}

	for _, b := range s.switches() {
		var bit byte
		if *b {
			bit = 1
		}
		raw = append(raw, bit)
	}

	for _, w := range s.words() {
		raw = append(binary.AppendUvarint(raw, uint64(len(*w))), *w...)
	}

	out := append(make([]byte, 0, 2+base64.StdEncoding.EncodedLen(len(raw))), '"')
	return append(base64.StdEncoding.AppendEncode(out, raw), '"'), nil
}

// UnmarshalJSON reads the form of MarshalJSON, and the object under field names that
// earlier versions stored. It returns an error for anything else.
func (s *State) UnmarshalJSON(text []byte) error {
	if len(text) > 0 && text[0] == '{' {
		type named State
		return json.Unmarshal(text, (*named)(s))
	}

	if len(text) < 2 || text[0] != '"' {
		return fmt.Errorf("wear state: %.20s is neither an object nor a string", text)
	}

	raw, err := base64.StdEncoding.AppendDecode(make([]byte, 0, len(text)), text[1:len(text)-1])
	if err != nil {
		return fmt.Errorf("wear state: %w", err)
	}
	if len(raw) == 0 || raw[0] != storedForm {
		return errors.New("wear state: written in a form that this version does not know")
	}

	*s = State{}
	if !s.read(raw[1:]) {
		return errors.New("wear state: cut off, or longer than it should be")
	}

	return nil
}

// read sets the fields of s from raw and reports whether raw has exactly their length.
func (s *State) read(raw []byte) bool {
	floats := s.floats()
	if len(raw) < 8*len(floats) {
		return false
	}

	for _, f := range floats {
		*f, raw = math.Float64frombits(binary.BigEndian.Uint64(raw)), raw[8:]
	}

	for _, c := range s.counts() {
		n, size := binary.Varint(raw)
		if size <= 0 {
			return false
		}
		*c, raw = int(n), raw[size:]
	}

	for _, b := range s.switches() {
		if len(raw) == 0 {
			return false
		}
		*b, raw = raw[0] == 1, raw[1:]
	}

	for _, w := range s.words() {
		n, size := binary.Uvarint(raw)
		if size <= 0 || n > uint64(len(raw)-size) {
			return false
		}
		*w, raw = string(raw[size:size+int(n)]), raw[size+int(n):]
	}

	return len(raw) == 0
}
