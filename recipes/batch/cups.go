package batch

import (
	"cmp"
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
	Shot      time.Duration // to load and inject one part, beside the pouring; 0 parts are only poured
	Margin    float64       // share of the pot life left unused, 0 to 0.9
	Celsius   float64       // of the resin while it is used; 0 as the data sheet's pot life says
	Halving   float64       // °C by which a resin must be warmer to have half its pot life; 0 usual
	People    int           // who share the work; 0 and 1 are one pair of hands
}

// UsualHandling is a start for a shop that has not timed itself: 30 s to
// weigh, 90 s to mix, 90 s to degas, 300 g poured a minute and 30 s to load and
// inject a part, a fifth of the pot life to spare, four times the volume for the
// vacuum (common practice, no source).
func UsualHandling() Handling {
	return Handling{Headroom: 4, Weigh: 30 * time.Second, Mix: 90 * time.Second, Degas: 90 * time.Second, PourRate: 300, Shot: 30 * time.Second, Margin: 0.2}
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
	return h.checkShots()
}

// Clock is the time of one cup, in minutes from the other side going in.
type Clock struct {
	PotLife float64 `json:"pot_life_minutes,omitzero"` // at Celsius
	Usable  float64 `json:"usable_minutes,omitzero"`   // pot life less the margin
	Weigh   float64 `json:"weigh_minutes"`
	Mix     float64 `json:"mix_minutes"`
	Degas   float64 `json:"degas_minutes"`
	Shot    float64 `json:"shot_minutes,omitzero"`    // to load and inject one part
	Celsius float64 `json:"resin_celsius,omitzero"`   // as stated
	Halving float64 `json:"halving_celsius,omitzero"` // warmer by this it has half its pot life
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
	Container Volume  `json:"container_ml,omitzero"`   // at least, for the vacuum
	Minutes   float64 `json:"minutes"`                 // weigh, mix, degas and pour or inject
	Starts    float64 `json:"starts_minutes,omitzero"` // its other side goes in, from the first cup's
	Late      bool    `json:"late,omitzero"`           // Minutes exceed the usable pot life
}

func (j *job) clock() Clock {
	h, pot := j.Handling, j.potLife().Minutes()
	c := Clock{PotLife: pot, Usable: pot * (1 - h.Margin), Weigh: h.Weigh.Minutes(), Mix: h.Mix.Minutes(), Degas: h.Degas.Minutes()}
	if j.Order.Shots > 0 {
		c.Shot = h.Shot.Minutes()
	}
	if c.Celsius = h.Celsius; c.Celsius > 0 {
		c.Halving = cmp.Or(h.Halving, UsualHalving)
	}
	return c
}

// cupLimit is the largest cup in micrograms by size and container.
func (j *job) cupLimit(density Density) float64 {
	h, limit := j.Handling, math.Inf(1)
	if h.MaxCup.Positive() {
		limit = float64(h.MaxCup.micrograms)
	}
	if h.Container.ml > 0 && density.Known() {
		limit = math.Min(limit, h.Container.ml/math.Max(1, h.Headroom)*density.gramsPerML*perGram) // (11)
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
	spare := (2 + float64(f.other)/float64(pot)) * float64(j.step)
	limit := math.Min(j.cupLimit(density), j.timeLimit(float64(total), spare))
	if !(limit > spare) || float64(total) > (limit-spare)*mostCups {
		return nil, fmt.Errorf("batch: cups of at most %.3g g cannot hold %v in %d: raise the cup size or lower the order", limit/perGram, Mass{total}, mostCups)
	}
	limit -= spare
	// A limit that is one part to the last bit holds that part.
	n := max(1, int(math.Ceil(float64(total)/limit-1e-9)))
	parts, shots := n, j.Order.Shots // equal parts to cut the batch in
	if perCup := math.Floor(limit*float64(shots)/float64(total) + 1e-9); shots > 0 && perCup >= 1 {
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
		counted := 0
		if parts == shots && shots > 0 {
			counted = to - from
		}
		cups[i] = j.cup(i+1, counted, upPot-pouredPot, upOther-pouredOther, density)
		from, pouredPot, pouredOther = to, upPot, upOther
	}
	j.stagger(cups)
	return cups, nil
}

// cup is one of so many whole shots; without any in an order that counts them, it
// is for a piece of a part.
func (j *job) cup(number, shots int, pigmented, other int64, density Density) Cup {
	h, clock := j.Handling, j.clock()
	c := Cup{Number: number, Shots: shots, Pigmented: Mass{pigmented}, Other: Mass{other}, Total: Mass{pigmented + other}}
	if shots == 0 && j.Order.Shots > 0 {
		shots = 1
	}
	c.Minutes = clock.fixed() + j.emptying(float64(c.Total.micrograms), shots)
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
	notes = append(notes, j.shotNotes(s)...)
	if s.Clock.PotLife == 0 {
		say("Pot life is not known: cups are not split by time.")
	}
	return notes
}
