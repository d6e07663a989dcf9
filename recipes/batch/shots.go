package batch

import (
	"fmt"
	"math"
	"time"
)

// The temperature data sheets quote a pot life at, and by how much warmer a
// resin has half of it (common practice, no source).
const (
	DataSheetCelsius = 23.0
	UsualHalving     = 10.0
)

// PotLifeAt is a data sheet's pot life at another temperature by (13). A colder
// room is not counted on: what is gained there is left as margin.
func PotLifeAt(sheet time.Duration, celsius, halving float64) time.Duration {
	warmer := math.Max(0, celsius-DataSheetCelsius)
	return time.Duration(float64(sheet) * math.Exp2(-warmer/halving)) // (13)
}

// checkShots is the part of check that is about shots and warmth.
func (h Handling) checkShots() error {
	switch {
	case h.Shot < 0 || h.Shot > 24*time.Hour:
		return fmt.Errorf("batch: %v to inject a shot: give a time from 0 to a day, such as 45s", h.Shot)
	case h.Celsius != 0 && !(h.Celsius >= 5 && h.Celsius <= 60):
		return fmt.Errorf("batch: resin at %g °C: give 5 to 60 °C", h.Celsius)
	case h.Halving != 0 && !(h.Halving >= 2 && h.Halving <= 50):
		return fmt.Errorf("batch: pot life that halves every %g °C: give 2 to 50 °C", h.Halving)
	case h.People < 0 || h.People > 20:
		return fmt.Errorf("batch: %d people: give 1 to 20", h.People)
	}
	return nil
}

// potLife is the pot life of a cup of this batch.
func (j *job) potLife() time.Duration {
	h := j.Handling
	if h.Celsius == 0 {
		return j.Resin.PotLife
	}
	halving := h.Halving
	if halving == 0 {
		halving = UsualHalving
	}
	return PotLifeAt(j.Resin.PotLife, h.Celsius, halving)
}

// emptying is how long a cup of a mass in micrograms takes to be used up: poured
// at the rate, and with so many shots loaded and injected besides, in minutes.
func (j *job) emptying(mass float64, shots int) float64 {
	minutes := float64(shots) * j.Handling.Shot.Minutes()
	if j.Handling.PourRate > 0 {
		minutes += mass / perGram / j.Handling.PourRate
	}
	return minutes
}

// timeLimit is the largest cup in micrograms that is used up in time, by (10).
// Where the order counts shots it is one of whole shots, at least one: a cup of a
// single shot that is late is marked so. A part is only cut into pieces where
// each leaves more time to pour than to load. Spare is what the cutting of the pot on
// the scale's steps may add to a cup.
func (j *job) timeLimit(total, spare float64) float64 {
	free := j.clock().Usable - j.clock().fixed()
	if j.clock().PotLife == 0 || free <= 0 { // without time at all no size helps; cups are marked late
		return math.Inf(1)
	}
	if j.Order.Shots == 0 || j.Handling.Shot == 0 {
		if j.Handling.PourRate == 0 {
			return math.Inf(1)
		}
		return free * j.Handling.PourRate * perGram
	}
	one := total / float64(j.Order.Shots)
	each := j.emptying(one, 1)
	switch shots := math.Floor((free-j.emptying(spare, 0))/each + 1e-9); {
	case shots >= 1:
		return shots*one + spare
	case free >= 2*j.Handling.Shot.Minutes(): // a part that takes longer to pour than there is, in pieces that pour no shorter than they are loaded
		return (free - j.Handling.Shot.Minutes()) * j.Handling.PourRate * perGram
	}
	return one + spare
}

// stagger puts the cups on one clock. One pair of hands makes a cup when the one
// before is used up. More share the work: one mixes while another injects, and a
// cup starts as soon as hands, chamber and injection are free for it,
//
//	s_i = s_{i-1} + t_weigh + t_mix + t_degas + t_inject              one person   (14)
//	s_i = s_{i-1} + max(t_weigh + t_mix, t_degas, t_inject)           more
func (j *job) stagger(cups []Cup) {
	c := j.clock()
	at := 0.0
	for i := range cups {
		cups[i].Starts = math.Round(at*1e6) / 1e6
		inject := cups[i].Minutes - c.fixed()
		if j.Handling.People > 1 {
			at += max(c.Weigh+c.Mix, c.Degas, inject) // (14)
		} else {
			at += cups[i].Minutes
		}
	}
}

// shotNotes says what a weigher should know of shots and of the pot life.
func (j *job) shotNotes(s *Sheet) []string {
	var notes []string
	say := func(format string, a ...any) { notes = append(notes, fmt.Sprintf(format, a...)) }
	if c := s.Clock; c.Celsius > DataSheetCelsius && c.PotLife > 0 {
		say("At %.4g °C the pot life is taken as %.1f min, not %.4g: halved every %.4g °C above %.4g °C (a rule of thumb; time a leftover once and give what you find).",
			c.Celsius, c.PotLife, j.Resin.PotLife.Minutes(), c.Halving, DataSheetCelsius)
	}
	if j.Order.Shots > 0 && s.Clock.Shot > 0 && s.Cups[0].Shots > 0 && s.Clock.PotLife > 0 {
		first := s.Cups[0]
		left := s.Clock.Usable - s.Clock.fixed()
		say("%s a cup: %s to load and inject one, %.1f min left for them once the cup is mixed.", countOf(first.Shots, "shot"), seconds(s.Clock.Shot), left)
	}
	if len(s.Cups) > 1 && s.Clock.PotLife > 0 {
		last := s.Cups[len(s.Cups)-1]
		say("Cup after cup the run takes %.0f min. Stir the pot again before each cup, and keep the pot and side %s closed in between: pigment settles, and damp makes the isocyanate side foam.",
			math.Ceil(last.Starts+last.Minutes), s.PigmentSide.other())
	}
	return notes
}

func countOf(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// seconds writes minutes as people say short times.
func seconds(minutes float64) string {
	if minutes < 2 {
		return fmt.Sprintf("%.0f s", minutes*60)
	}
	return fmt.Sprintf("%.3g min", minutes)
}
