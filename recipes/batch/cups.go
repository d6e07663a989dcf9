package batch

import (
	"fmt"
	"math"
	"time"
)

// Handling is how the shop mixes: what bounds a cup, and how long it takes.
type Handling struct {
	MaxCup    Mass          // largest mixed cup; 0 no limit
	Container Volume        // brim volume of the cup at hand; 0 any
	Headroom  float64       // container over mixed volume (11); 0 no advice
	Weigh     time.Duration // to weigh the other side into one cup
	Mix       time.Duration
	Degas     time.Duration // 0 no vacuum
	PourRate  float64       // grams a minute; 0 no time counted
	Margin    float64       // share of the pot life left unused, 0 to 0.9
}

// UsualHandling is a start for a shop that has not timed itself: 30 s to
// weigh, 90 s to mix, 90 s to degas, 300 g poured a minute, a fifth of the pot
// life to spare, four times the volume for the vacuum (common practice, no
// source).
func UsualHandling() Handling {
	return Handling{Headroom: 4, Weigh: 30 * time.Second, Mix: 90 * time.Second, Degas: 90 * time.Second, PourRate: 300, Margin: 0.2}
}

func (h Handling) check() error {
	switch {
	case h.MaxCup.micrograms < 0:
		return fmt.Errorf("batch: largest cup of %v: give a positive mass, or leave it out", h.MaxCup)
	case !(h.Container.ml >= 0 && h.Container.ml <= 1e6):
		return fmt.Errorf("batch: container of %g ml: give 0 to 1e6 ml", h.Container.ml)
	case h.Headroom != 0 && !(h.Headroom >= 1 && h.Headroom <= 20):
		return fmt.Errorf("batch: headroom of %g: give 1 to 20 times the mixed volume", h.Headroom)
	case h.Weigh < 0 || h.Mix < 0 || h.Degas < 0:
		return fmt.Errorf("batch: weighing %v, mixing %v, degassing %v: none may be negative", h.Weigh, h.Mix, h.Degas)
	case !(h.PourRate >= 0 && h.PourRate <= 1e6):
		return fmt.Errorf("batch: pouring %g g a minute: give 0 to 1e6", h.PourRate)
	case !(h.Margin >= 0 && h.Margin <= 0.9):
		return fmt.Errorf("batch: pot-life margin of %g: give a share from 0 to 0.9", h.Margin)
	}
	return nil
}

// Clock is the time of one cup, in minutes from the other side going in.
type Clock struct {
	PotLife float64 `json:"pot_life_minutes,omitzero"`
	Usable  float64 `json:"usable_minutes,omitzero"` // pot life less the margin
	Weigh   float64 `json:"weigh_minutes"`
	Mix     float64 `json:"mix_minutes"`
	Degas   float64 `json:"degas_minutes"`
}

func (c Clock) fixed() float64 { return c.Weigh + c.Mix + c.Degas }

// Cup is one mixed cup. With several, Pigmented comes out of the pot in which
// all pigment was stirred into its side.
type Cup struct {
	Number    int     `json:"number"` // from 1
	Shots     int     `json:"shots,omitzero"`
	Pigmented Mass    `json:"pigmented_grams"` // pigment side with its pigments
	Other     Mass    `json:"other_grams"`     // the side that starts the clock
	Total     Mass    `json:"total_grams"`
	Volume    Volume  `json:"mixed_ml,omitzero"`
	Container Volume  `json:"container_ml,omitzero"` // at least, for the vacuum
	Minutes   float64 `json:"minutes"`               // weigh, mix, degas and pour
	Late      bool    `json:"late,omitzero"`         // Minutes exceed the usable pot life
}

func (j *job) clock() Clock {
	h, pot := j.Handling, j.Resin.PotLife.Minutes()
	return Clock{PotLife: pot, Usable: pot * (1 - h.Margin),
		Weigh: h.Weigh.Minutes(), Mix: h.Mix.Minutes(), Degas: h.Degas.Minutes()}
}

// cupLimit is the largest cup in micrograms by size, container and pot life.
func (j *job) cupLimit(density Density) float64 {
	h, limit := j.Handling, math.Inf(1)
	if h.MaxCup.Positive() {
		limit = float64(h.MaxCup.micrograms)
	}
	if h.Container.ml > 0 && density.Known() {
		limit = math.Min(limit, h.Container.ml/math.Max(1, h.Headroom)*density.gramsPerML*perGram) // (11)
	}
	// Without time to pour at all no size helps; cups are then marked late.
	if c := j.clock(); c.PotLife > 0 && h.PourRate > 0 && c.Usable > c.fixed() {
		limit = math.Min(limit, (c.Usable-c.fixed())*h.PourRate*perGram) // (10)
	}
	return limit
}

// mostCups: more is a wrong limit rather than a plan.
const mostCups = 1000

// cups splits the batch evenly, by whole shots where the order counts them.
func (j *job) cups(f fill, density Density) ([]Cup, error) {
	total, pot := f.total(), f.total()-f.other
	// Cutting the pot on the scale's steps can put a step more in a cup, and
	// the other side follows it.
	limit := j.cupLimit(density)
	spare := (2 + float64(f.other)/float64(pot)) * float64(j.step)
	if !(limit > spare) || float64(total) > (limit-spare)*mostCups {
		return nil, fmt.Errorf("batch: cups of at most %.3g g cannot hold %v in %d: raise the cup size or lower the order", limit/perGram, Mass{total}, mostCups)
	}
	limit -= spare
	n := max(1, int(math.Ceil(float64(total)/limit)))
	parts, shots := n, j.Order.Shots // equal parts to cut the batch in
	if perCup := math.Floor(limit * float64(shots) / float64(total)); shots > 0 && perCup >= 1 {
		n, parts = int(math.Ceil(float64(shots)/math.Min(perCup, float64(shots)))), shots
	}
	cups, cut := make([]Cup, n), func(of int64, k int) int64 {
		if k == parts {
			return of // the last cup takes what is left
		}
		return nearest(float64(of)*float64(k)/float64(parts), j.step)
	}
	var from int
	var pouredPot, pouredOther int64
	for i := range cups {
		to := from + parts/n
		if i < parts%n {
			to++
		}
		upPot := cut(pot, to)
		upOther := f.other
		if to < parts {
			upOther = nearest(float64(f.other)*float64(upPot)/float64(pot), j.step)
		}
		cups[i] = j.cup(i+1, upPot-pouredPot, upOther-pouredOther, density)
		if parts == shots && shots > 0 {
			cups[i].Shots = to - from
		}
		from, pouredPot, pouredOther = to, upPot, upOther
	}
	return cups, nil
}

func (j *job) cup(number int, pigmented, other int64, density Density) Cup {
	h, clock := j.Handling, j.clock()
	c := Cup{Number: number, Pigmented: Mass{pigmented}, Other: Mass{other}, Total: Mass{pigmented + other}, Minutes: clock.fixed()}
	if h.PourRate > 0 {
		c.Minutes += c.Total.Grams() / h.PourRate
	}
	c.Late = clock.PotLife > 0 && c.Minutes > clock.Usable+1e-9
	if density.Known() {
		c.Volume = Volume{c.Total.Grams() / density.gramsPerML}
		if h.Headroom > 0 && h.Degas > 0 {
			c.Container = Volume{c.Volume.ml * h.Headroom} // (11)
		}
	}
	return c
}

func (j *job) cupNotes(s *Sheet) []string {
	var notes []string
	say := func(format string, a ...any) { notes = append(notes, fmt.Sprintf(format, a...)) }
	if len(s.Cups) > 1 {
		say("%d cups: stir all pigment into all of side %s in one pot first, then weigh each cup from it; the clock of a cup starts with its side %s.", len(s.Cups), s.PigmentSide, s.PigmentSide.other())
	}
	if j.Order.Shots > 0 && s.Cups[0].Shots == 0 {
		say("One part needs more than one cup: expect a joint, or use larger cups or a slower resin.")
	}
	if c := s.Clock; s.Cups[0].Late {
		say("A cup needs %.1f min and the pot life allows %.1f: leave out the vacuum, mix faster, or use a slower resin.", s.Cups[0].Minutes, c.Usable)
	}
	if s.Clock.PotLife == 0 {
		say("Pot life is not known: cups are not split by time.")
	}
	return notes
}
