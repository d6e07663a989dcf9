package color

import (
	"fmt"
	"slices"
	"strings"
)

// Geometry is how an instrument lights and views a part (CIE 15:2018, 5).
type Geometry string

// The geometries of handheld instruments.
const (
	Sphere      Geometry = "d/8"  // diffuse light, view 8 degrees off the normal
	Directional Geometry = "45/0" // light at 45 degrees, view along the normal
)

// ParseGeometry reads "d/8" or "45/0", with a slash, a colon or nothing
// between, also as 45.0/0.0. "0/45" is 45/0 with the light reversed, and
// measures the same; so do the ring and the single direction 45a:0 and 45x:0
// of CIE 15:2018 for what these words tell.
func ParseGeometry(s string) (Geometry, error) {
	switch geometryKey(s) {
	case "d8", "8d":
		return Sphere, nil
	case "450", "045", "45a0", "45x0", "045a", "045x":
		return Directional, nil
	}
	return "", fmt.Errorf("unknown geometry %q; use d/8 or 45/0", s)
}

func geometryKey(s string) string {
	return strings.NewReplacer("/", "", ":", "", " ", "", "°", "", ".0", "").Replace(strings.ToLower(s))
}

// Specular says whether a reading holds the mirror reflection of the surface.
type Specular string

// A sphere reads either way; 45/0 always leaves the mirror reflection out.
const (
	SpecularIncluded Specular = "included"
	SpecularExcluded Specular = "excluded"
)

// ParseSpecular reads "included" or "excluded", or the abbreviations SPIN, SCI,
// SPEX, SCE of the trade.
func ParseSpecular(s string) (Specular, error) {
	switch strings.ToLower(strings.TrimSpace(s)) {
	case "included", "spin", "sci", "spinc", "rsin":
		return SpecularIncluded, nil
	case "excluded", "spex", "sce", "spexc", "rsex":
		return SpecularExcluded, nil
	}
	return "", fmt.Errorf("unknown specular mode %q; use included or excluded", s)
}

// measurementWords say nothing on their own beside a geometry or a mode.
var measurementWords = []string{"specular", "component", "reflection", "geometry", "integrating", "with", "the", "mode", "gloss", "is"}

// ParseMeasurement reads what files say of geometry and specular mode in one
// text: "d:8 SPIN", "di:8" (CIE 15:2018, 5), "integrating sphere, specular
// excluded", "45/0". What the text leaves open stays empty, but for 45/0, which
// excludes the reflection always. A word it does not know is an error.
func ParseMeasurement(s string) (Measurement, error) {
	var m Measurement
	unknown := fmt.Errorf("unknown way of measuring %q; use d/8 or 45/0, included or excluded", s)
	set := func(g Geometry, mode Specular) bool {
		if g != "" && m.Geometry != "" && g != m.Geometry || mode != "" && m.Specular != "" && mode != m.Specular {
			return false
		}
		if g != "" {
			m.Geometry = g
		}
		if mode != "" {
			m.Specular = mode
		}
		return true
	}
	words := strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return strings.ContainsRune(" \t,;()_", r) })
	for _, w := range words {
		ok := true
		g, notGeometry := ParseGeometry(w)
		mode, notMode := ParseSpecular(w)
		switch key := geometryKey(w); {
		case notGeometry == nil:
			ok = set(g, "")
		case notMode == nil:
			ok = set("", mode)
		case key == "di8" || key == "8di" || key == "d8i":
			ok = set(Sphere, SpecularIncluded)
		case key == "de8" || key == "8de" || key == "d8e":
			ok = set(Sphere, SpecularExcluded)
		case w == "sphere" || w == "spherical":
			ok = set(Sphere, "")
		case w == "directional":
			ok = set(Directional, "")
		default:
			ok = slices.Contains(measurementWords, w)
		}
		if !ok {
			return Measurement{}, unknown
		}
	}
	if m.Geometry == Directional && m.Specular == "" {
		m.Specular = SpecularExcluded
	}
	if m == (Measurement{}) {
		return m, unknown
	}
	return m, nil
}

// Measurement is how a reading was taken. Readings taken in different ways
// differ by several CIELAB units on a glossy part.
type Measurement struct {
	Geometry Geometry `json:"geometry"`
	Specular Specular `json:"specular"`
}

// String gives "d/8 specular included", and of a part that was not said no word.
func (m Measurement) String() string {
	switch {
	case m == (Measurement{}):
		return "not said"
	case m.Specular == "":
		return string(m.Geometry)
	case m.Geometry == "":
		return "specular " + string(m.Specular)
	}
	return fmt.Sprintf("%s specular %s", m.Geometry, m.Specular)
}

// Usual fills in what was not said: d/8, with the specular reflection included
// for d/8 and without it for 45/0. Common practice, no source.
func (m Measurement) Usual() Measurement {
	if m.Geometry == "" {
		m.Geometry = Sphere
	}
	if m.Specular == "" {
		m.Specular = SpecularIncluded
		if m.Geometry == Directional {
			m.Specular = SpecularExcluded
		}
	}
	return m
}

// Check refuses an unknown or impossible way of measuring.
func (m Measurement) Check() error {
	if m.Geometry != Sphere && m.Geometry != Directional {
		return fmt.Errorf("unknown geometry %q; use d/8 or 45/0", string(m.Geometry))
	}
	if m.Specular != SpecularIncluded && m.Specular != SpecularExcluded {
		return fmt.Errorf("unknown specular mode %q; use included or excluded", string(m.Specular))
	}
	if m.Geometry == Directional && m.Specular == SpecularIncluded {
		return fmt.Errorf("geometry 45/0 cannot include the specular reflection; say excluded")
	}
	return nil
}
