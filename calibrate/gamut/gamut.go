package gamut

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"masstone/calibrate"
	"masstone/color"
)

// Limits bound the mixtures of a gamut.
type Limits struct {
	// TotalPHR is the most pigment in all, above 0; 0 for half as much again as
	// the fullest chip holds. One pigment alone may reach half as much again as
	// its fullest chip: beyond that the calibration does not know.
	TotalPHR calibrate.PHR
}

// beyond is how far past the loadings of the chips a gamut reaches.
const beyond = 1.5

// Reached is a mixture and the colour the calibration predicts for it.
type Reached struct {
	Loadings map[string]calibrate.PHR
	Lab      color.Lab // under the calibration's main condition
}

// Total is the most pigment in all that the mixtures of a calibration may hold.
func (l Limits) Total(cal *calibrate.Calibration) calibrate.PHR {
	if l.TotalPHR == 0 {
		return beyond * cal.MaxTotal
	}
	return l.TotalPHR
}

// Section is the part of the gamut at one lightness. Every colour in it is that
// of a mixture of up to four pigments within the limits.
type Section struct {
	L float64
	// Center is the most neutral colour found. It is nil where no mixture has
	// this lightness.
	Center *Reached
	// Outline goes once around the center: the farthest colour found in each of
	// 72 directions from it, or the center where nothing lies in a direction,
	// and more where there is a tip between two directions. A shelf of two
	// pigments reaches a line only, and the outline goes there and back; with
	// one pigment it is empty.
	Outline []Corner
}

// Corner is the farthest colour found in a direction.
type Corner struct {
	Reached
	// Of the way from the center (0) to the colour (1), the part from GapFrom to
	// GapTo is not reached. A large shelf has no such gaps: both are 0.
	GapFrom, GapTo float64
}

// nearNeutral is the chroma that counts as none.
const nearNeutral = 0.05

// Sections finds the outline of what a calibration's pigments can reach at each
// lightness (0 to 100) in a setting, under the calibration's main condition.
//
// First every pigment and every pair of them is followed from nothing up to the
// limits, alone and brought to the lightness with the lightest or the darkest
// pigment. From the best of those the search then walks outwards in each
// direction along the gradients of the prediction, on the level, trading three
// pigments against each other at a time, and hands what it finds to the
// neighbouring directions. The outline is what was found: all of it can be mixed,
// and a little more may be reachable. Between the center and the outline the
// search walks back in to find the gaps that a small shelf leaves.
//
// Its error says what is impossible about setting, level or limit.
func Sections(cal *calibrate.Calibration, in calibrate.Setting, levels []float64, l Limits) ([]Section, error) {
	if !(l.TotalPHR >= 0 && l.TotalPHR <= 100) {
		return nil, fmt.Errorf("total loading of the gamut is %g phr; give 0 to 100", float64(l.TotalPHR))
	}
	e, err := cal.Evaluator(in)
	if err != nil {
		return nil, fmt.Errorf("setting of the gamut: %w", err)
	}
	total := float64(l.Total(cal))
	s := &search{cal: cal, e: e, total: total, top: make([]float64, len(cal.Curves))}
	for q := 1; q < len(cal.Curves); q++ {
		s.all = append(s.all, q)
		s.top[q] = math.Min(beyond*float64(cal.Curves[q].MaxPHR), total)
	}
	s.slopes = make([][3]float64, len(cal.Curves))
	var out []Section
	for _, level := range levels {
		if !(level >= 0 && level <= 100) {
			return nil, fmt.Errorf("lightness %g of the gamut; give L* from 0 to 100", level)
		}
		out = append(out, Section{L: level})
	}
	starts := s.firstLook(levels)
	for i := range out {
		s.level = levels[i]
		s.section(&out[i], starts[i])
	}
	return out, nil
}

// section fills one section from the mixtures found on its level.
func (s *search) section(out *Section, starts []blend) {
	if len(starts) == 0 {
		return
	}
	center := s.neutral(starts)
	out.Center = s.reached(&center)
	switch len(s.cal.Curves) {
	case 2:
		return
	case 3:
		slices.SortFunc(starts, func(a, b blend) int { return cmp.Compare(a.share(), b.share()) })
		for i := range starts {
			out.Outline = append(out.Outline, Corner{*s.reached(&starts[i]), 0, 1})
		}
		for i := len(starts) - 2; i > 0; i-- {
			out.Outline = append(out.Outline, out.Outline[i])
		}
		return
	}

	o := &outline{center: center}
	for k := range directions {
		o.corners = append(o.corners, o.corner(2*math.Pi*float64(k)/directions))
	}
	for k, b := range o.farthest(starts) {
		if b.n > 0 {
			s.widen(&o.corners[k], b)
		}
	}
	for _, step := range []int{1, -1, 1, -1} { // hand on to the neighbours
		for i := range directions {
			k := (i*step + directions) % directions
			if from := &o.corners[k]; from.found {
				s.widen(&o.corners[(k+step+directions)%directions], from.blend)
			}
		}
	}
	for range directions { // tips between the directions
		b, ok := o.beyond(starts)
		if !ok {
			break
		}
		c := o.corner(math.Atan2(b.lab[2]-center.lab[2], b.lab[1]-center.lab[1]))
		c.blend, c.found = b, true
		s.widen(&c, b)
		o.insert(c)
	}
	for range 2 { // long edges
		for _, pair := range o.edges() {
			mid := o.corner(pair[0].angle + turned(pair[0].angle, pair[1].angle)/2)
			for _, from := range pair {
				if from.found {
					s.widen(&mid, from.blend)
				}
			}
			if mid.found && o.excess(&mid.blend) > 0.1 {
				o.insert(mid)
			}
		}
	}
	s.fillDents(o)
	gaps := s.gaps(o)
	for i, c := range o.corners {
		out.Outline = append(out.Outline, Corner{*s.reached(&c.blend), gaps[i][0], gaps[i][1]})
	}
}

// neutral finds the mixture of least chroma on the level.
func (s *search) neutral(starts []blend) blend {
	slices.SortFunc(starts, func(a, b blend) int { return cmp.Compare(a.chroma(), b.chroma()) })
	best := starts[0]
	for _, b := range starts[:min(len(starts), 20)] {
		for range 3 { // towards neutral, as far as it goes
			c := b.chroma()
			if c < nearNeutral {
				return b
			}
			s.push(&b, ray{at: [2]float64{b.lab[1], b.lab[2]}, to: [2]float64{-b.lab[1] / c, -b.lab[2] / c}, most: c}, stride)
		}
		if b.chroma() < best.chroma() {
			best = b
		}
	}
	return best
}

func (s *search) reached(b *blend) *Reached {
	r := &Reached{Loadings: map[string]calibrate.PHR{}, Lab: color.LabFrom(b.lab, s.cal.Main)}
	for i, q := range b.q[:b.n] {
		r.Loadings[s.cal.Curves[q].Code] = calibrate.PHR(b.c[i])
	}
	return r
}
