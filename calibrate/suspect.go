package calibrate

import (
	"fmt"
	"strings"
)

// A Suspect is a mistake that the readings point to. Nothing is changed on
// record.
type Suspect struct {
	// Chips are the chip, the two of a swap, or the chips that the evidence
	// cannot tell apart.
	Chips   []string `json:"chips"`
	Cause   Cause    `json:"cause"`
	Pigment string   `json:"pigment"`           // whose loading slipped, or what the chips are about
	Factor  float64  `json:"factor,omitempty"`  // true over written loading of a slip
	Backing string   `json:"backing,omitempty"` // what the chip was really read over
	Sigma   float64  `json:"sigma"`             // how far the chip as written lies from what the others say
	Taken   bool     `json:"taken"`             // the fit takes the chips for what the cause says; otherwise it downweights them
	Odds    float64  `json:"ln_odds"`           // ln of the odds against the next explanation
	Written string   `json:"written,omitempty"` // what backing was written, of a wrong one
}

// String says what is suspected and what to do about it, on one line.
func (s Suspect) String() string {
	what := ""
	switch s.Cause {
	case LoadingSlip:
		times, more := s.Factor, "more"
		if times < 1 {
			times, more = 1/times, "less"
		}
		what = fmt.Sprintf("chip %s: loading of %s is %.3g times %s than written; correct the record or read it again", s.Chips[0], s.Pigment, times, more)
	case SwappedChips:
		what = fmt.Sprintf("chips %s and %s are swapped; correct the record or read them again", s.Chips[0], s.Chips[1])
	case WrongBacking:
		what = fmt.Sprintf("chip %s: read over %s, not %s; correct the record or read it again", s.Chips[0], s.Backing, s.Written)
	default:
		if len(s.Chips) == 1 {
			what = fmt.Sprintf("chip %s agrees with no other; read it again", s.Chips[0])
		} else {
			what = fmt.Sprintf("%s disagree and the readings cannot tell which is wrong; read %s again", s.about(), strings.Join(s.Chips, ", "))
		}
	}
	return fmt.Sprintf("%s (%.0f sigma)", what, s.Sigma)
}

// about names the chips of a suspect together.
func (s Suspect) about() string {
	if s.Pigment == "" {
		return "chips of the bare resin"
	}
	return "chips of " + s.Pigment
}

// suspect tells a finding of p's chips to the outside.
func (f *finding) suspect(p *problem) Suspect {
	s := Suspect{Cause: f.cause, Sigma: f.size, Factor: f.factor, Pigment: f.pigment, Odds: f.margin / 2, Taken: f.cause != Unexplained}
	for _, i := range f.chips {
		c := p.readings[i].chip
		if r := p.readings[i].recorded; r != nil {
			c = r
		}
		s.Chips = append(s.Chips, c.Name)
		if f.cause == WrongBacking {
			s.Backing, s.Written = f.over, c.BackingName
		}
	}
	if q := p.chipGroups().about[f.chips[0]]; s.Pigment == "" && q > 0 {
		s.Pigment = p.pigments[q-1]
	}
	return s
}
