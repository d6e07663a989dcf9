package control

// The usual reference value and decision interval of a cumulative sum, per
// sigma: a steady run is taken for a shifted one after 465 values on average,
// and a shift by one sigma is seen after 10.4 (e-Handbook 6.3.2.3).
const (
	UsualK = 0.5
	UsualH = 5
)

// Cusum is the tabular cumulative sum of deviations from a level.
type Cusum struct {
	Level, K, H float64 // in units of the values
	High, Low   []float64
	// Signals are the crossings of H, in order; a sum that stays above it signals
	// once.
	Signals []Signal
}

// A Signal is a shift that a chart sees.
type Signal struct {
	At   int  // value at which it is seen
	From int  // value from which on it is
	Up   bool // the values went up
}

// CusumOf sums deviations from level.
func CusumOf(x []float64, level, k, h float64) Cusum {
	c := Cusum{Level: level, K: k, H: h}
	var high, low side
	for i, v := range x {
		c.High = append(c.High, high.add(i, v-level-k)) // (3)
		c.Low = append(c.Low, low.add(i, level-v-k))    // (4)
		for _, s := range []struct {
			*side
			up bool
		}{{&high, true}, {&low, false}} {
			if s.sum > h && s.before <= h {
				c.Signals = append(c.Signals, Signal{At: i, From: s.from, Up: s.up})
			}
		}
	}
	return c
}

// side is one of the two sums.
type side struct {
	sum, before float64
	from        int
}

func (s *side) add(i int, v float64) float64 {
	s.before = s.sum
	if s.sum == 0 {
		s.from = i
	}
	s.sum = max(0, s.sum+v)
	return s.sum
}

// Standing is the signal whose sum is still above H at the end; nil for none.
// Of two it is the one seen last.
func (c Cusum) Standing() *Signal {
	for i := len(c.Signals) - 1; i >= 0; i-- {
		s, sum := c.Signals[i], c.Low
		if s.Up {
			sum = c.High
		}
		if sum[len(sum)-1] > c.H {
			return &s
		}
	}
	return nil
}
