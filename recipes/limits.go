package recipes

import (
	"fmt"
	"math"
	"sort"

	"masstone/calibrate"
	"masstone/color"
)

// Limits bound what a recipe may hold. The zero value asks for up to four
// pigments, weighed exactly.
type Limits struct {
	MaxPigments int      // 0 means 4; at most MaxPerRecipe
	Required    []string // pigments every recipe holds
	Allowed     []string // pigments a recipe may hold; empty for all
	Forbidden   []string
	// MaxPHR per pigment and TotalPHR of all; absent or 0 for half as much
	// again as the chips hold.
	MaxPHR   map[string]calibrate.PHR
	TotalPHR calibrate.PHR

	// The batch at hand and the scale it is weighed on. They give the weighing
	// error; MinWeigh is the least amount of a pigment that may be weighed: a
	// pigment is absent or at least that much.
	BatchGrams calibrate.Grams
	ScaleGrams calibrate.Grams
	MinWeigh   calibrate.Grams
	StockGrams map[string]calibrate.Grams // on hand; absent for enough
	// StrengthScatter is the relative standard deviation of a pigment's
	// strength from pour to pour.
	StrengthScatter float64

	MinOpacity      float64            // contrast ratio over black and white at the part's thickness, 0..1
	PricePerKg      map[string]float64 // of pigment paste
	ResinPricePerKg float64            // of mixed resin
	MaxCostPerKg    float64            // of coloured mixed resin; 0 for no limit

	Recipes   int  // how many answers; 0 means 5
	Predicted bool // choose by predicted instead of expected difference
	// Progress, if set, is called now and then with the subsets done.
	Progress func(done, total int)
}

// MaxPerRecipe is the most pigments one recipe may hold.
const MaxPerRecipe = 8

// bench is the limits resolved against a calibration: curve positions and
// bounds in phr.
type bench struct {
	pigments  []int     // curve positions that may be used
	lo, hi    []float64 // phr when present
	weigh     []float64 // sd of weighing, phr
	price     []float64 // per kg
	required  []bool
	cover     []float64 // phr that hides, if so much is allowed
	absorb    []float64 // K and S per phr, mean of the bands
	scatter   []float64
	thickness float64 // of the part, mm
	size      int
	total     float64
}

// beyond is how far past the largest loading among its chips a pigment may be
// used, and past their largest total a recipe, where the user sets no limit:
// what the chips did not show the calibration does not know.
const beyond = 1.5

func (l *Limits) resolve(cal *calibrate.Calibration, thickness float64) (*bench, error) {
	b := &bench{size: l.MaxPigments, total: float64(l.TotalPHR), thickness: thickness}
	if b.size == 0 {
		b.size = 4
	}
	if b.size < 1 || b.size > MaxPerRecipe {
		return nil, fmt.Errorf("%d pigments per recipe; give 1 to %d", b.size, MaxPerRecipe)
	}
	if !(b.total >= 0) || !(l.MinOpacity >= 0 && l.MinOpacity <= 1) || !(l.MaxCostPerKg >= 0) || !(l.StrengthScatter >= 0 && l.StrengthScatter < 1) ||
		!(l.BatchGrams >= 0) || !(l.ScaleGrams >= 0) || !(l.MinWeigh >= 0) {
		return nil, fmt.Errorf("a limit is negative or out of range; opacity runs from 0 to 1, masses and costs from 0 up")
	}
	if l.MinWeigh > 0 && l.BatchGrams == 0 {
		return nil, fmt.Errorf("a least weighable amount needs a batch size; give the batch in grams")
	}
	if b.total == 0 {
		b.total = beyond * float64(cal.MaxTotal)
	}
	b.total = math.Min(b.total, 100) // more paste than resin is no mixture
	use := map[string]bool{}
	known := cal.Codes()
	check := func(codes []string, what string) error {
		for _, c := range codes {
			if cal.Index(c) == 0 {
				return fmt.Errorf("%s pigment %s is not in this calibration; it knows %v", what, c, known)
			}
		}
		return nil
	}
	for _, list := range []struct {
		codes []string
		what  string
	}{{l.Required, "required"}, {l.Allowed, "allowed"}, {l.Forbidden, "forbidden"}} {
		if err := check(list.codes, list.what); err != nil {
			return nil, err
		}
	}
	allowed := l.Allowed
	if len(allowed) == 0 {
		allowed = known
	}
	for _, c := range allowed {
		use[c] = true
	}
	for _, c := range l.Required {
		use[c] = true
	}
	for _, c := range l.Forbidden {
		for _, r := range l.Required {
			if c == r {
				return nil, fmt.Errorf("pigment %s is both required and forbidden", c)
			}
		}
		delete(use, c)
	}
	required := map[string]bool{}
	for _, c := range l.Required {
		required[c] = true
	}
	if len(required) > b.size {
		return nil, fmt.Errorf("%d pigments are required but a recipe may hold %d; raise the number of pigments", len(required), b.size)
	}
	for _, c := range known {
		if !use[c] {
			continue
		}
		hi := b.total
		if m := float64(l.MaxPHR[c]); m > 0 {
			hi = math.Min(hi, m)
		} else {
			hi = math.Min(hi, beyond*float64(cal.Curves[cal.Index(c)].MaxPHR))
		}
		if s, ok := l.StockGrams[c]; ok && l.BatchGrams > 0 {
			hi = math.Min(hi, float64(s)*100/float64(l.BatchGrams))
		}
		lo := 0.0
		if l.MinWeigh > 0 {
			lo = float64(l.MinWeigh) * 100 / float64(l.BatchGrams)
		}
		if hi <= 0 || lo > hi {
			if required[c] {
				return nil, fmt.Errorf("required pigment %s cannot be used: %.3g phr is the least that can be weighed, %.3g the most allowed or in stock", c, lo, hi)
			}
			continue
		}
		weigh := 0.0
		if l.BatchGrams > 0 && l.ScaleGrams > 0 {
			weigh = float64(l.ScaleGrams) / math.Sqrt(12) * 100 / float64(l.BatchGrams)
		}
		b.pigments = append(b.pigments, cal.Index(c))
		b.lo = append(b.lo, lo)
		b.hi = append(b.hi, hi)
		b.weigh = append(b.weigh, weigh)
		b.price = append(b.price, l.PricePerKg[c])
		b.required = append(b.required, required[c])
	}
	if len(b.pigments) > maxPigments {
		return nil, fmt.Errorf("%d pigments to choose from; at most %d: name the allowed ones", len(b.pigments), maxPigments)
	}
	if len(b.pigments) == 0 {
		return nil, fmt.Errorf("no pigment may be used under these limits; allow one, or a larger batch")
	}
	b.size = min(b.size, len(b.pigments))
	// required pigments first, so that the search only ever extends them; then
	// those that hide most, so that it starts from opaque mixtures
	order := make([]int, len(b.pigments))
	hides := make([]float64, len(b.pigments))
	for i := range order {
		order[i] = i
		for _, s := range cal.Curves[b.pigments[i]].S {
			hides[i] += s * b.hi[i] / color.Bands
		}
	}
	sort.SliceStable(order, func(i, j int) bool {
		i, j = order[i], order[j]
		if b.required[i] != b.required[j] {
			return b.required[i]
		}
		return hides[i] > hides[j]
	})
	c := *b
	c.pigments, c.lo, c.hi, c.weigh, c.price, c.required = nil, nil, nil, nil, nil, nil
	for _, i := range order {
		c.pigments = append(c.pigments, b.pigments[i])
		c.lo = append(c.lo, b.lo[i])
		c.hi = append(c.hi, b.hi[i])
		c.weigh = append(c.weigh, b.weigh[i])
		c.price = append(c.price, b.price[i])
		c.required = append(c.required, b.required[i])
		k, s := 0.0, hides[i]/b.hi[i]
		for _, v := range cal.Curves[b.pigments[i]].K {
			k += v / color.Bands
		}
		// opaque is S x thickness of a few; a tint has K/S near a third
		c.cover = append(c.cover, math.Min(math.Max(0.2, 4/math.Max(s*thickness, 1e-9)), b.hi[i]))
		c.absorb = append(c.absorb, k)
		c.scatter = append(c.scatter, s)
	}
	return &c, nil
}

// subsets counts the non-empty sets the search covers.
func (b *bench) subsets() int {
	req := 0
	for _, r := range b.required {
		if r {
			req++
		}
	}
	free := len(b.pigments) - req
	n := 0
	for k := max(0, 1-req); k <= b.size-req; k++ {
		n += choose(free, k)
	}
	return n
}

func choose(n, k int) int {
	if k < 0 || k > n {
		return 0
	}
	c := 1
	for i := range k {
		c = c * (n - i) / (i + 1)
	}
	return c
}
