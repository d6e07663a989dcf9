package readings

import (
	"slices"
	"strings"

	"masstone/color"
)

// space is what the three columns of a colour hold.
type space int

const (
	inLab space = iota
	inLCh
	inXYZ // Y = 100 for the perfect diffuser
)

func (s space) String() string { return [...]string{"Lab", "LCh", "XYZ"}[s] }

// axes are the words for the columns of each space, as headers have them.
// Common practice, no source.
var axes = map[space][3][]string{
	inLCh: {{"L*", "L"}, {"C*", "C", "C*ab", "Cab", "C*_ab"}, {"h", "h*", "H", "H*", "hab", "h*ab", "hue"}},
	inXYZ: {{"X"}, {"Y"}, {"Z"}},
}

// spaceHeader understands a header of LCh or XYZ: C*(D65/10), XYZ_X, h_D65.
func spaceHeader(h string, in space) (axis int, set setKey, ok bool) {
	tokens := slices.DeleteFunc(labTokens(h), func(t string) bool { return strings.EqualFold(t, in.String()) })
	for i, t := range tokens {
		for axis, names := range axes[in] {
			if !slices.Contains(names, t) {
				continue
			}
			rest := append(slices.Clone(tokens[:i]), tokens[i+1:]...)
			if set, ok := labConditions(rest); ok {
				return axis, set, true
			}
		}
	}
	return 0, setKey{}, false
}

// otherSpaces takes LCh or XYZ where no Lab stands beside it.
func otherSpaces(header []string, columns []column) []labSet {
	for _, in := range []space{inLCh, inXYZ} {
		found := map[setKey]*labSet{}
		var order []setKey
		for i, h := range header {
			if r := columns[i].role; r != ignored && r != labColumn {
				continue
			}
			axis, key, ok := spaceHeader(h, in)
			if !ok {
				continue
			}
			if found[key] == nil {
				found[key] = &labSet{key: key, columns: [3]int{-1, -1, -1}, in: in}
				order = append(order, key)
			}
			if found[key].columns[axis] < 0 {
				found[key].columns[axis] = i
			}
		}
		var whole []labSet
		for _, key := range order {
			if set := found[key]; set.whole() {
				whole = append(whole, *set)
			}
		}
		if len(whole) > 0 {
			return whole
		}
	}
	return nil
}

func (s *labSet) whole() bool { return !slices.Contains(s.columns[:], -1) }

// useOtherSpaces puts columns of LCh or XYZ in the place of Lab that is not
// there.
func (pl *plan) useOtherSpaces(header []string) {
	if slices.ContainsFunc(pl.sets, func(s labSet) bool { return s.whole() }) {
		return
	}
	sets := otherSpaces(header, pl.columns)
	if sets == nil {
		return
	}
	for i, c := range pl.columns {
		if c.role == labColumn {
			pl.columns[i] = column{header: c.header, role: ignored}
		}
	}
	for _, set := range sets {
		for axis, at := range set.columns {
			pl.columns[at] = column{header: header[at], role: labColumn, axis: axis, set: set.key}
		}
	}
	pl.sets = sets
}

// impossible says what is wrong with a value of an axis, and what to do.
func (s space) impossible(axis int, v float64) (problem, hint string) {
	least, most, is := 0.0, 100.0, "value "
	switch {
	case s == inXYZ:
		most = 100 * maxReflectance
	case axis == 0:
		is = "L* "
	case s == inLCh:
		most = [...]float64{100, maxChroma, 360}[axis]
	default:
		if v < -maxChroma || v > maxChroma {
			return "value " + plain(v) + " is impossible for a surface", "check the column and its decimal mark"
		}
		return "", ""
	}
	if v < least || v > most {
		return is + plain(v) + " is outside 0.." + plain(most), "check the column order and the calibration of the instrument"
	}
	return "", ""
}

// lab brings values of a space to Lab.
func (s space) lab(v [3]float64, under color.Condition) (color.Lab, error) {
	switch s {
	case inLCh:
		return color.LCh{L: v[0], C: v[1], H: v[2], Under: under}.Lab(), nil
	case inXYZ:
		return color.XYZ{X: v[0], Y: v[1], Z: v[2], Under: under}.Lab()
	}
	return color.LabFrom(v, under), nil
}
