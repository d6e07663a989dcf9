package calibrate

import (
	"maps"
	"math"
	"slices"

	"masstone/color"
)

// Cause is what may have gone wrong with a chip.
type Cause string

// The causes that can be argued from readings.
const (
	LoadingSlip  Cause = "loading slip"  // one loading is ten times more or less than written
	SwappedChips Cause = "swapped chips" // each of two chips holds what is written on the other
	WrongBacking Cause = "wrong backing" // read over another backing than written
	Unexplained  Cause = "unexplained"   // none of these fits
)

// slips are the factors by which a loading is wrong when its point slips.
var slips = []float64{10, 0.1}

// A mistake is one way in which chips may differ from what is written.
type mistake struct {
	cause     Cause
	chips     []int // the two of a swap, otherwise one or more
	pigment   string
	factor    float64 // true over written loading
	backing   color.Reflectance
	over      string   // name of the backing
	plausible float64  // of a slip, by the loadings of all chips
	scope     []int    // the chips on which it is tried first
	rough     [2]state // the curves of a rough fit of its scope, from those of all chips and from flat ones
	gain      float64
	part      *problem // of the scope alone, with its optimum
	at        state
	all       float64 // -2 ln evidence of all chips and of the mistake
	p         *problem
	x         state
}

// priorCost is -2 ln of the odds, before any reading, that just this mistake was
// made: one chip in fifty is wrong, in one of some ten ways, and a swap has
// fifty partners to choose from. Common practice, no source.
func (m *mistake) priorCost() float64 {
	switch m.cause {
	case "":
		return 0
	case SwappedChips:
		return 16
	case LoadingSlip:
		return 12 - m.plausible
	}
	return 12
}

// plausible is how much more likely, in -2 ln odds, the loading that a slip
// would have been is than what is written, judged by how often each of the two
// stands among the loadings of all chips: chips are cast to a plan. A loading
// beside the plan counts as half a chip's, shared among the ten or so that
// people choose (1, 2, 5 and their tenths). Common practice, no source.
func (p *problem) plausible(written, slipped float64) float64 {
	a, b := besidePlan, besidePlan
	for i := range p.readings {
		for _, v := range p.readings[i].chip.Loadings {
			if math.Abs(float64(v)-slipped) < 0.02*slipped {
				a++
			}
			if math.Abs(float64(v)-written) < 0.02*written {
				b++
			}
		}
	}
	b = math.Max(b-1, besidePlan) // the written one itself
	return 2 * math.Log(a/b)
}

const besidePlan = 0.5 / 10

// outlierTrust is the trust in a chip that nothing explains: its reading keeps a
// hundredth of its say, enough to do no harm and not to be lost.
const outlierTrust = 0.01

// support is how much better the readings are explained with the mistake than
// without, in -2 ln odds, on the chips of its scope.
func (m *mistake) support() float64 { return m.gain - m.priorCost() }

// same reports whether two mistakes tell the same story: the same cause and
// chips. Which pigment of a chip slipped is not told apart.
func (m *mistake) same(o *mistake) bool {
	return m.cause == o.cause && slices.Equal(m.chips, o.chips)
}

// chip returns chip i of p as the mistake has it.
func (m *mistake) chip(p *problem, i int) Chip {
	c := *p.readings[i].chip
	at := slices.Index(m.chips, i)
	if at < 0 {
		return c
	}
	switch m.cause {
	case LoadingSlip:
		c.Loadings = maps.Clone(c.Loadings)
		c.Loadings[m.pigment] *= PHR(m.factor)
	case SwappedChips:
		other := p.readings[m.chips[1-at]].chip
		c.Loadings, c.PasteStrength = other.Loadings, other.PasteStrength
	case WrongBacking:
		c.Backing, c.BackingName = m.backing, m.over
	}
	return c
}

// chipGroups says which chips are about which pigment: the one that the fewest
// chips hold.
type chipGroups struct {
	about []int
	chips [][]int // per pigment
}

func (p *problem) chipGroups() chipGroups {
	holds := make([]int, p.curves)
	for i := range p.readings {
		for _, q := range p.readings[i].curve {
			holds[q]++
		}
	}
	s := chipGroups{about: make([]int, len(p.readings)), chips: make([][]int, p.curves)}
	for i := range p.readings {
		for _, q := range p.readings[i].curve {
			if best := s.about[i]; q > 0 && (best == 0 || holds[q] < holds[best]) {
				s.about[i] = q
			}
		}
		s.chips[s.about[i]] = append(s.chips[s.about[i]], i)
	}
	return s
}

// singles lists the mistakes that one of the chips about pigment q may be. sizes are
// those of all chips: among many, one that is wrong stands out.
func (p *problem) singles(s chipGroups, q int, sizes []float64) []*mistake {
	var out []*mistake
	scope, many := p.together(s, q)
	for _, i := range s.chips[q] {
		if p.readings[i].found() || !s.mayBe(i, many, sizes) {
			continue
		}
		if many {
			scope, _ = p.together(s, q, i)
		}
		add := func(m mistake) {
			m.chips, m.scope = []int{i}, scope
			out = append(out, &m)
		}
		c := p.readings[i].chip
		add(mistake{cause: Unexplained})
		for _, code := range c.pigments() {
			for _, f := range slips {
				if v := float64(c.Loadings[code]); v*f < 60 { // more is never cast
					add(mistake{cause: LoadingSlip, pigment: code, factor: f, plausible: p.plausible(v, v*f)})
				}
			}
		}
		for _, g := range p.grounds() {
			if !alike(g.r, c.Backing) {
				add(mistake{cause: WrongBacking, backing: g.r, over: g.name})
			}
		}
	}
	return out
}

// swaps lists the swaps of chips about pigment q with others, of many those that stand
// out.
func (p *problem) swaps(s chipGroups, q int, others []int, sizes []float64) []*mistake {
	var out []*mistake
	for _, j := range others {
		scope := p.scope(slices.Concat(s.chips[q], s.chips[s.about[j]]))
		many := len(scope) > mostTogether
		for _, i := range s.chips[q] {
			if !s.mayBe(i, many, sizes) || !s.mayBe(j, many, sizes) {
				continue
			}
			if many {
				scope, _ = p.together(s, q, i, j)
			}
			if s.about[j] != q && !p.readings[i].found() {
				out = append(out, &mistake{cause: SwappedChips, chips: []int{min(i, j), max(i, j)}, scope: scope})
			}
		}
	}
	return out
}

// A ground is what a chip may lie on.
type ground struct {
	name string
	r    color.Reflectance
}

// grounds lists the backings in use, and a usual white and black where there is
// none like it (a drawdown card; common practice, no source).
func (p *problem) grounds() []ground {
	var out []ground
	add := func(name string, r color.Reflectance) {
		if !slices.ContainsFunc(out, func(o ground) bool { return alike(o.r, r) }) {
			out = append(out, ground{name, r})
		}
	}
	light, dark := false, false
	for i := range p.readings {
		c := p.readings[i].chip
		add(c.BackingName, c.Backing)
		middle := c.Backing[color.Bands/2]
		light, dark = light || middle > 0.6, dark || middle < 0.15
	}
	if !light {
		add("white", color.Constant(0.85))
	}
	if !dark {
		add("black", color.Constant(0.04))
	}
	return out
}

// alike reports whether two backings would not be mistaken for one another.
func alike(a, b color.Reflectance) bool {
	for k := range a {
		if math.Abs(a[k]-b[k]) > 0.05 {
			return false
		}
	}
	return true
}

// mostTogether is how many chips are few enough to take no time, mostAlike how many about
// a pigment are too few for one that is wrong to stand out for sure, since its curves
// follow whatever is written, and standsOut the size from which a chip among more of them is
// tried: sound ones reach it too. Chosen for time; a shop that casts its pastes by
// themselves and in the white has fewer of each, one that pours much has more.
const (
	mostTogether = 40
	mostAlike    = 6
	standsOut    = 2.5
)

// mayBe reports whether chip i is tried, many where those to try it on are.
func (s *chipGroups) mayBe(i int, many bool, sizes []float64) bool {
	return sizes[i] >= standsOut || !many && len(s.chips[s.about[i]]) <= mostAlike
}

// together returns the chips on which to try what is about pigment q, or about it and
// others: all made of what its chips hold or, where these are many, of what the
// simplest of them and the others hold; of pours of many recipes, where that is every chip,
// first those about the same pigments, the simplest of them before all.
func (p *problem) together(s chipGroups, q int, others ...int) (scope []int, many bool) {
	if scope = p.scope(slices.Concat(others, s.chips[q])); len(scope) <= mostTogether || len(s.chips[q]) == 0 {
		return scope, false
	}
	parts := func(i int) int { return len(p.readings[i].curve) }
	least := parts(slices.MinFunc(s.chips[q], func(i, j int) int { return parts(i) - parts(j) }))
	with := slices.Clone(others)
	for _, i := range s.chips[q] {
		if parts(i) <= max(least, 3) {
			with = append(with, i)
		}
	}
	if scope = p.scope(with); len(scope) <= mostTogether {
		return scope, true
	}
	same := make([]bool, p.curves)
	same[q] = true
	for _, i := range others {
		for _, r := range p.readings[i].curve {
			same[r] = true
		}
	}
	last := func(i int) int {
		switch {
		case slices.Contains(others, i):
			return 0
		case same[s.about[i]]:
			return parts(i)
		}
		return parts(i) + MaxComponents
	}
	slices.SortStableFunc(scope, func(i, j int) int { return last(i) - last(j) })
	scope = scope[:mostTogether]
	slices.Sort(scope)
	return scope, true
}

// scope returns all chips made of the pigments of the given ones alone.
func (p *problem) scope(chips []int) []int {
	have := make([]bool, p.curves)
	for _, i := range chips {
		for _, q := range p.readings[i].curve {
			have[q] = true
		}
	}
	var out []int
	for i := range p.readings {
		if !slices.ContainsFunc(p.readings[i].curve, func(q int) bool { return !have[q] }) {
			out = append(out, i)
		}
	}
	return out
}
