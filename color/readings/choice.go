package readings

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"masstone/color"
	"masstone/color/remedy"
)

// variant is the way a record was read, as far as the file says it of the
// record itself: what tells two readings of one piece apart that may not be
// averaged.
type variant struct {
	geometry string // as color.Geometry, or in the file's words
	specular color.Specular
	mode     string // M0 to M3, or in the file's words
}

var modeWord = regexp.MustCompile(`(?i)^M[0-3]`)

// modeOf is a measurement condition of ISO 13655 without what is said about it:
// M1 of "M1_Daylight".
func modeOf(text string) string {
	if m := modeWord.FindString(text); m != "" {
		return strings.ToUpper(m)
	}
	return text
}

func variantOf(geometry, words string, specular color.Specular, mode string) variant {
	if geometry == "" {
		geometry = cmp.Or(anglesOf(words), words)
	}
	return variant{geometry, specular, modeOf(mode)}
}

// with completes a variant by another, unless the two contradict each other.
func (v variant) with(w variant) (variant, bool) {
	ok := true
	merge := func(a, b string) string {
		ok = ok && (a == "" || b == "" || a == b)
		if a == "" {
			return b
		}
		return a
	}
	return variant{merge(v.geometry, w.geometry), color.Specular(merge(string(v.specular), string(w.specular))), merge(v.mode, w.mode)}, ok
}

// variant reads the way of a record off what its format or its cells say.
func (s *sheet) variant(pl *plan, i int) variant {
	var v variant
	if s.measured != nil {
		v = variantOf(string(s.measured[i].Geometry), s.angles[i], s.measured[i].Specular, s.taken[i].Mode)
	}
	cell := func(of role) string {
		if at, ok := pl.where[of]; ok && at < len(s.records[i].cells) && s.records[i].cells[at] != notRead {
			return s.records[i].cells[at]
		}
		return ""
	}
	for _, text := range []string{cell(geometryColumn), cell(specularColumn)} {
		m, err := color.ParseMeasurement(text)
		if err == nil {
			v, _ = v.with(variant{string(m.Geometry), m.Specular, ""})
		}
	}
	if text := cell(geometryColumn); v.geometry == "" {
		v.geometry = cmp.Or(anglesOf(text), text)
	}
	if text := cell(circumstanceColumn); text != "" {
		v.mode = modeOf(text)
	}
	return v
}

// part is one of the things that a variant is told apart by.
type part struct {
	input string // that chooses one
	of    func(variant) string
	asked string
	known func(string) bool // whether the input takes a value of the file
}

func (o *Options) parts() []part {
	return []part{
		{"geometry", func(v variant) string { return v.geometry }, cmp.Or(string(o.Measurement.Geometry), o.Angles), func(s string) bool { _, err := color.ParseGeometry(s); return err == nil || anglesOf(s) != "" }},
		{"specular", func(v variant) string { return string(v.specular) }, string(o.Measurement.Specular), func(string) bool { return true }},
		{"m-condition", func(v variant) string { return v.mode }, o.Mode, func(string) bool { return true }},
	}
}

// choose leaves out the records that were read in another way than the one
// asked for, where the file has both. Where a piece was read in several ways and
// none is asked for, it says how to ask.
func (s *sheet) choose(pl *plan, o *Options, p *problems) {
	variants := make([]variant, len(s.records))
	for i := range s.records {
		variants[i] = s.variant(pl, i)
	}
	for _, part := range o.parts() {
		first := map[string]int{} // record of a piece that says the part
		var several []string
		others, at := []string{}, -1
		asked := slices.ContainsFunc(variants, func(v variant) bool { return part.of(v) == part.asked })
		for i, v := range variants {
			value := part.of(v)
			if value == "" {
				continue
			}
			if !slices.Contains(others, value) {
				others = append(others, value)
			}
			name := pl.nameIn(s.records[i])
			if k, seen := first[name]; !seen {
				first[name] = i
			} else if part.of(variants[k]) != value && at < 0 {
				at = i
			}
		}
		switch {
		case len(others) < 2:
		case part.asked != "" && asked:
			wanted := func(i int) bool { return part.of(variants[i]) == "" || part.of(variants[i]) == part.asked }
			s.keep(wanted)
			variants = only(variants, wanted)
			s.notes = append(s.notes, fmt.Sprintf("readings of another %s than %s were left out: %s", partName(part.input), part.asked, strings.Join(slices.DeleteFunc(others, func(v string) bool { return v == part.asked }), ", ")))
		case at >= 0:
			for _, v := range others {
				if part.known(v) {
					several = append(several, remedy.InputAs(part.input, v))
				}
			}
			hint := "choose one by " + strings.Join(several, " or ")
			if len(several) == 0 {
				hint = "export readings of d/8 or 45/0"
			}
			p.add(s.records[at].line, pl.nameIn(s.records[at]), "", fmt.Sprintf("was read in several ways, %s %s", partName(part.input), strings.Join(others, " and ")), hint)
			return
		}
	}
}

func partName(input string) string {
	return map[string]string{"geometry": "geometry", "specular": "specular mode", "m-condition": "measurement condition"}[input]
}

// keep drops the records that are not wanted, and what is known of each.
func (s *sheet) keep(wanted func(int) bool) {
	records := only(s.records, wanted)
	if s.measured != nil {
		s.measured, s.taken, s.angles, s.roles = only(s.measured, wanted), only(s.taken, wanted), only(s.angles, wanted), only(s.roles, wanted)
	}
	s.records = records
}

// only is a list of those that are wanted.
func only[T any](list []T, wanted func(int) bool) []T {
	out := make([]T, 0, len(list))
	for i, x := range list {
		if wanted(i) {
			out = append(out, x)
		}
	}
	return out
}

// askAngles asks about geometries that the format states per record and that
// are not known here.
func (s *sheet) askAngles(o *Options, p *problems) {
	if o.Measurement.Geometry != "" || p.count() > 0 {
		return // said, or a choice may settle it
	}
	told := map[string]bool{"": true}
	for _, words := range s.angles {
		told[words] = told[words] || anglesOf(words) != "" && anglesOf(words) == o.Angles
	}
	for i, words := range s.angles {
		if !told[words] {
			told[words] = true
			p.add(s.records[i].line, "", "", "geometry "+quote(words)+" is no way of measuring known here", sayGeometry(words))
		}
	}
}
