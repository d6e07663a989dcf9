package calibrate

import (
	"encoding/csv"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/color"
)

// realPigments reads testdata/real_pigments: chips and unseen mixtures of a
// virtual shop on the measured K and S of artist paints (R. S. Berns, Artist
// Paint Spectral Database, Rochester Institute of Technology).
type realPigments struct {
	pigments []string
	chips    []Chip
	mixtures []Chip // true colours, no noise
}

var lights = []color.Illuminant{"D65", "A", "FL11"}

func readRealPigments(t testing.TB) realPigments {
	t.Helper()
	var s realPigments
	s.pigments, s.chips = readTable(t, "../testdata/real_pigments/chips.csv")
	_, s.mixtures = readTable(t, "../testdata/real_pigments/mixtures.csv")
	return s
}

func readTable(t testing.TB, file string) ([]string, []Chip) {
	f, err := os.Open(file)
	require.NoError(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	require.NoError(t, err)
	head := rows[0]
	var pigments []string
	var chips []Chip
	for _, row := range rows[1:] {
		c := Chip{Name: row[0], Loadings: map[string]PHR{}, Thickness: 3, BackingName: "white", Backing: color.Constant(0.90),
			Measurement: color.Measurement{Geometry: "d/8", Specular: "included"}, ChipGrams: 50, ScaleGrams: 0.01}
		labs := map[string]*color.Lab{}
		var spectrum color.Reflectance
		bands := 0
		pigments = pigments[:0]
		for i, name := range head[1:] {
			cell := row[i+1]
			if name == "backing" {
				c.BackingName = cell
				if cell == "black" {
					c.Backing = color.Constant(0.03)
				}
				continue
			}
			v, err := strconv.ParseFloat(cell, 64)
			require.NoError(t, err)
			switch {
			case name == "thickness_mm":
				c.Thickness = ThicknessMM(v)
			case len(name) > 2 && name[1] == '_':
				light := name[2:]
				if labs[light] == nil {
					labs[light] = &color.Lab{Under: color.Condition{Illuminant: color.Illuminant(light), Observer: 10}}
				}
				switch name[0] {
				case 'L':
					labs[light].L = v
				case 'a':
					labs[light].A = v
				case 'b':
					labs[light].B = v
				}
			case strings.HasPrefix(name, "R") && len(name) == 4:
				spectrum[bands] = v
				bands++
			default:
				pigments = append(pigments, name)
				c.Loadings[name] = PHR(v)
			}
		}
		for _, light := range lights {
			c.Labs = append(c.Labs, *labs[string(light)])
		}
		if bands > 0 {
			c.Spectrum = &spectrum
		}
		chips = append(chips, c)
	}
	return pigments, chips
}

// evidenceOf keeps of each chip what an instrument of that kind would give.
func evidenceOf(chips []Chip, kind string) []Chip {
	out := append([]Chip(nil), chips...)
	for i := range out {
		switch kind {
		case "one":
			out[i].Labs, out[i].Spectrum = out[i].Labs[:1:1], nil
		case "three":
			out[i].Spectrum = nil
		}
	}
	return out
}

// designs of the published study of this shop: masstone and 0.5 tint; with
// the 0.1 tint; with the thin film over black.
func designOf(chips []Chip, n int) []Chip {
	var out []Chip
	for _, c := range chips {
		if c.Name == "WH-05b" {
			out = append(out, c)
			continue
		}
		thin, weak := false, false
		thin = c.BackingName == "black"
		for code, phr := range c.Loadings {
			if code != "WH" && phr > 0 && phr < 0.3 && c.Loadings["WH"] > 0 {
				weak = true
			}
		}
		if n < 48 && thin || n < 37 && weak {
			continue
		}
		out = append(out, c)
	}
	return out
}
