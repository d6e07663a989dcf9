package readings

import (
	"math"

	"masstone/color"
)

// solid is the set of tristimulus values that reflecting surfaces can have
// under one condition: every sum of band weights taken with reflectance factors
// from 0 to 1. Its boundary holds the optimal colours (MacAdam, J. Opt. Soc.
// Am. 25, 249 and 361 (1935)). Over 31 bands it is a polytope whose faces are
// spanned by two bands each, so that it is exact as the cut of the half-spaces
//
//	n . xyz <= sum over bands max(0, n . w)    n = +-(w_i x w_j)
//
// and no search for the two transition wavelengths is needed.
type solid struct {
	normals [][3]float64
	reach   []float64
	weights *color.Weights
}

func solidOf(c color.Condition) (*solid, error) {
	w, err := color.WeightsFor(c)
	if err != nil {
		return nil, err
	}
	s := &solid{weights: w}
	at := func(i int) [3]float64 { return [3]float64{w.W[0][i], w.W[1][i], w.W[2][i]} }
	for i := range color.Bands {
		for j := range i {
			n := cross(at(i), at(j))
			size := math.Sqrt(dot(n, n))
			if size < 1e-12 { // bands of one direction span no face
				continue
			}
			up, down := 0.0, 0.0
			for k := range color.Bands {
				d := dot(n, at(k)) / size
				up, down = up+max(0, d), down+max(0, -d)
			}
			unit := [3]float64{n[0] / size, n[1] / size, n[2] / size}
			s.normals = append(s.normals, unit, [3]float64{-unit[0], -unit[1], -unit[2]})
			s.reach = append(s.reach, up, down)
		}
	}
	return s, nil
}

// holds tells whether a surface can have the tristimulus values, to a
// millionth of the white.
func (s *solid) holds(xyz [3]float64) bool {
	for i, n := range s.normals {
		if !(dot(n, xyz) <= s.reach[i]+1e-4) {
			return false
		}
	}
	return true
}

// limit gives how much chroma a surface can have at the lightness and hue of
// lab, which the solid does not hold, in the same proportion of a* and b*.
func (s *solid) limit(lab color.Lab) (float64, error) {
	low, high := 0.0, 1.0
	for range 30 {
		mid := (low + high) / 2
		inside, err := s.holdsLab(color.Lab{L: lab.L, A: lab.A * mid, B: lab.B * mid, Under: lab.Under})
		if err != nil {
			return 0, err
		}
		if inside {
			low = mid
		} else {
			high = mid
		}
	}
	return low * math.Hypot(lab.A, lab.B), nil
}

// beyond is by how much the chroma of lab passes what a surface can have, 0 for what
// one can, and what it can.
func (s *solid) beyond(lab color.Lab) (over, limit float64, err error) {
	if inside, err := s.holdsLab(lab); err != nil || inside {
		return 0, 0, err
	}
	if limit, err = s.limit(lab); err != nil {
		return 0, 0, err
	}
	return math.Hypot(lab.A, lab.B) - limit, limit, nil
}

func (s *solid) holdsLab(lab color.Lab) (bool, error) {
	xyz, err := lab.XYZ()
	if err != nil {
		return false, err
	}
	return s.holds([3]float64{xyz.X, xyz.Y, xyz.Z}), nil
}

func dot(a, b [3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

func cross(a, b [3]float64) [3]float64 {
	return [3]float64{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}
