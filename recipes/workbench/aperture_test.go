package workbench

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
	"masstone/color"
	"masstone/color/readings"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// TestDiameters: an aperture is written by its diameter, as instruments are sold, and
// counts by its radius.
func TestDiameters(t *testing.T) {
	for text, mm := range map[string]float64{"8 mm": 8, "8mm": 8, "8": 8, "4,5 mm": 4.5, "4 mm of 8 mm lit": 8, "": 0, "MAV": 0, "port 3": 0, "8 m": 0} {
		assert.Equal(t, mm, diameterOf(text), text)
		assert.EqualValues(t, mm/2, apertureOf(readings.Circumstances{Aperture: text}), text)
	}
}

// A pastAperture is a shop whose instruments lose light past what they see
// (virtualshop.PastAperture), with files as its instruments write them.
type pastAperture struct {
	*virtualshop.Shop
	b *Bench
}

func newPastAperture(t testing.TB, world uint64) *pastAperture {
	b := newBench(t)
	s := virtualshop.PastAperture(world, 4)
	addResin(t, b, "LIT")
	for name, r := range map[string]color.Reflectance{"white": s.Setting.Backing, "black": s.Dark} {
		_, err := b.archive.PutBacking(t.Context(), archive.Backing{Name: name, Constant: &r[0], Source: "stated"}, archive.Replace)
		require.NoError(t, err)
	}
	return &pastAperture{s, b}
}

// read is a file of chips read through an aperture of so many mm, stated or not; with
// what is in them where codes are given.
func (s *pastAperture) read(rng *rand.Rand, mm float64, stated bool, codes []string, chips ...calibrate.Chip) *File {
	fractions := false
	head := strings.Join(append([]string{"chip", "backing", "thickness_mm", "aperture"}, codes...), ",")
	for nm := 400; nm <= 700; nm += 10 {
		head += fmt.Sprintf(",R%d", nm)
	}
	for _, c := range chips {
		c.Aperture = calibrate.ApertureMM(mm / 2)
		head += fmt.Sprintf("\n%s,%s,3,", c.Name, c.BackingName)
		if stated {
			head += fmt.Sprintf("%g mm", mm)
		}
		for _, code := range codes {
			head += fmt.Sprintf(",%g", float64(c.Loadings[code]))
		}
		for _, v := range s.Cast(rng, c).Spectrum {
			head += fmt.Sprintf(",%.4f", v)
		}
	}
	return &File{Name: "readings.csv", Data: strings.NewReader(head), Options: readings.Options{Percent: &fractions}}
}

func phrsOf(m map[string]figure.Number) map[string]calibrate.PHR {
	out := map[string]calibrate.PHR{}
	for code, v := range m {
		out[code] = calibrate.PHR(v)
	}
	return out
}

func TestExplore(t *testing.T) {
	for world := uint64(1); world <= 5; world++ {
		for _, stated := range []bool{false, true} {
			s := newPastAperture(t, world)
			rng := rand.New(rand.NewPCG(world, 'p'))
			_, err := ImportChips(t.Context(), s.b, ImportChipsRequest{Resin: "LIT", Chips: *s.read(rng, 8, stated, s.Codes, s.Study(virtualshop.Thin)...), ChipGrams: s.ChipGrams, ScaleGrams: s.ScaleGrams})
			require.NoError(t, err)
			fit, err := Fit(t.Context(), s.b, FitRequest{Resin: "LIT", Layer: calibrate.KubelkaMunk})
			require.NoError(t, err)
			_, cal, err := calibrationOn(t.Context(), s.b.archive, "LIT", 0)
			require.NoError(t, err)
			var de, ex, own float64
			for i, m := range s.Mixtures(rng, 6) {
				name := fmt.Sprintf("target %d", i)
				set := s.Setting
				set.Aperture = 2
				want := s.Color(m, set, color.D65Ten())
				_, err := AddTarget(t.Context(), s.b, AddTargetRequest{Name: name, Readings: Readings{File: s.read(rng, 4, stated, nil, s.Chip(name, m))}})
				require.NoError(t, err)
				found, err := Match(t.Context(), s.b, MatchRequest{Target: name, Resin: "LIT", Limits: usualLimits(), Anyway: true})
				require.NoError(t, err)
				if i == 0 {
					t.Log(found.Notes)
				}
				d, err := s.Color(phrsOf(found.Recipes[0].Loadings), set, color.D65Ten()).DeltaE00(want)
				require.NoError(t, err)
				p, err := cal.Predict(calibrate.Sample{Loadings: m, Setting: set}, color.D65Ten())
				require.NoError(t, err)
				o, _ := p.Colors[0].Lab.DeltaE00(want)
				own += o / 6
				de += d / 6
				ex += float64(found.Recipes[0].Expected) / 6
			}
			fmt.Printf("world %d stated %v: loss %.3f crowd %.3f casting %.3f fit %v: dE %.3f expected %.3f own %.3f\n", world, stated, cal.Law.Loss, cal.Law.Crowding, cal.CastingError.K, fit.ApertureMM, de, ex, own)
		}
	}
}
