package color

import (
	"fmt"
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
// between. "0/45" is 45/0 with the light reversed, and measures the same.
func ParseGeometry(s string) (Geometry, error) {
	switch strings.NewReplacer("/", "", ":", "", " ", "", "°", "").Replace(strings.ToLower(s)) {
	case "d8":
		return Sphere, nil
	case "450", "045":
		return Directional, nil
	}
	return "", fmt.Errorf("unknown geometry %q; use d/8 or 45/0", s)
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
	case "included", "spin", "sci":
		return SpecularIncluded, nil
	case "excluded", "spex", "sce":
		return SpecularExcluded, nil
	}
	return "", fmt.Errorf("unknown specular mode %q; use included or excluded", s)
}

// Measurement is how a reading was taken. Readings taken in different ways
// differ by several CIELAB units on a glossy part.
type Measurement struct {
	Geometry Geometry `json:"geometry"`
	Specular Specular `json:"specular"`
}

// String gives "d/8 specular included".
func (m Measurement) String() string {
	return fmt.Sprintf("%s specular %s", m.Geometry, m.Specular)
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
