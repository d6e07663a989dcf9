package readings

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"masstone/color"
	"masstone/color/remedy"
)

var anglesPattern = regexp.MustCompile(`^([0-9]{1,3}(?:\.[0-9]+)?)°? ?[/:] ?(as)? ?(-?[0-9]{1,3}(?:\.[0-9]+)?)°?$`)

// Angles brings a geometry of two single angles that package color has no word
// for, such as "45°:15°" or "45.0/as15", to one spelling: "45/15", "45/as15". It
// tells whether the text is one.
func Angles(text string) (string, bool) {
	if _, err := color.ParseGeometry(text); err == nil {
		return "", false
	}
	m := anglesPattern.FindStringSubmatch(strings.ToLower(strings.TrimSpace(text)))
	if m == nil {
		return "", false
	}
	light, _ := number(m[1], '.')
	view, _ := number(m[3], '.')
	if light > 90 || view < -180 || view > 180 {
		return "", false
	}
	return plain(light) + "/" + m[2] + plain(view), true
}

func anglesOf(text string) string {
	angles, _ := Angles(text)
	return angles
}

// sayGeometry is what to do about a geometry in words not known here.
func sayGeometry(words string) string {
	hint := "say " + remedy.InputAs("geometry", string(color.Sphere)) + " or " + remedy.InputAs("geometry", string(color.Directional))
	if angles := anglesOf(words); angles != "" {
		hint = "say " + remedy.InputAs("geometry", angles) + " to take it as 45/0, else export d/8 or 45/0"
	}
	return hint
}

// takeAngles settles what is read at the angles asked for. It refuses angles
// that the file does not state.
func (s *sheet) takeAngles(pl *plan, o *Options, p *problems) *Options {
	if o.Angles == "" {
		return o
	}
	at, inCells := pl.where[geometryColumn]
	stated := slices.ContainsFunc(s.unclear, func(u unclear) bool { return u.about == ofGeometry && anglesOf(u.text) == o.Angles })
	for i, r := range s.records {
		here := i < len(s.angles) && anglesOf(s.angles[i]) == o.Angles
		here = here || inCells && at < len(r.cells) && anglesOf(r.cells[at]) == o.Angles
		stated = stated || here
	}
	if !stated {
		p.whole(fmt.Sprintf("states no geometry %s, but %s says it", o.Angles, remedy.Input("geometry")), "leave the option out, or say one that the file states")
		return o
	}
	out := *o
	if out.Measurement.Geometry == "" {
		out.Measurement.Geometry = color.Directional
	}
	return &out
}
