//go:build study

package castplan_test

import (
	"encoding/csv"
	"fmt"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
	"masstone/color"
)

// What a plan gains over chance from starts of one to three chips per colour. The
// ratio rises to 1 as the start comes close to what noise and weighing allow, and
// the figure before tells how close that is.
func TestStudyOfChance(t *testing.T) {
	for _, e := range virtualshop.Evidences() {
		for perColour := 1; perColour <= 3; perColour++ {
			for _, more := range []int{4, 10} {
				var all []comparison
				for seed := uint64(1); seed <= 4; seed++ {
					s := virtualshop.Painted(seed, 8)
					if seed == 3 {
						s = s.InOpaqueResin()
					}
					all = append(all, newWorld(s, seed, calibrate.KubelkaMunk).compare(t, rand.New(rand.NewPCG(seed, 'c')), e, perColour, more, 2, 5))
				}
				t.Logf("%d per colour: %s", perColour, comparisonTable(all))
				plan, chance := pooled(all)
				require.LessOrEqual(t, plan, chance*1.05)
			}
		}
	}
}

// Twelve pigments with the measured curves of real paints: the truth is a
// calibration fitted to the spectra of testdata/real_pigments.
func TestStudyOfChanceRealPigments(t *testing.T) {
	s := realShop(t)
	w := newWorld(s, 1, calibrate.KubelkaMunk)
	for _, e := range virtualshop.Evidences() {
		var all []comparison
		for perColour := 1; perColour <= 3; perColour++ {
			all = append(all, w.compare(t, rand.New(rand.NewPCG(uint64(perColour), 'r')), e, perColour, 11, 2, 5))
		}
		t.Log(comparisonTable(all))
	}
}

// Light by radiative transfer, fitted with the exact layer.
func TestStudyOfChanceRadiative(t *testing.T) {
	w := newWorld(virtualshop.Radiative(1, 7), 1, calibrate.ExactLayer)
	for _, e := range virtualshop.Evidences() {
		all := []comparison{
			w.compare(t, rand.New(rand.NewPCG(1, 'x')), e, 1, 6, 2, 5),
			w.compare(t, rand.New(rand.NewPCG(2, 'x')), e, 2, 6, 2, 5),
		}
		t.Log(comparisonTable(all))
	}
}

// Starting plans of one to four chips per colour beside the usual set of a
// masstone and a half tint.
func TestStudyOfStarts(t *testing.T) {
	var b strings.Builder
	for _, e := range virtualshop.Evidences() {
		for perColour := 0; perColour <= 4; perColour++ {
			name, sum, n := fmt.Sprintf("%d per colour", perColour), 0.0, 0
			for seed := uint64(1); seed <= 5; seed++ {
				s := virtualshop.Painted(seed, 8)
				if seed == 3 {
					s = s.InOpaqueResin()
				}
				w := newWorld(s, seed, calibrate.KubelkaMunk)
				rng := rand.New(rand.NewPCG(seed, 'u'))
				var chips []calibrate.Chip
				if perColour == 0 {
					name = "usual"
					chips = w.CastAll(rng, w.Study(virtualshop.Tint))
				} else {
					chips = w.cast(rng, w.start(t, perColour))
				}
				n = len(chips)
				sum += w.miss(t, w.fit(t, e, chips)) / 5
			}
			fmt.Fprintf(&b, "%-13s %-13s %3d chips %.3f\n", e, name, n, sum)
		}
	}
	t.Log("mean CIEDE2000 of unseen mixtures\n" + b.String())
}

// realShop is a shop whose pigments have the curves of testdata/real_pigments.
func realShop(t *testing.T) *virtualshop.Shop {
	codes, chips := realChips(t)
	c, err := calibrate.Fit(t.Context(), codes, chips, calibrate.Options{Layer: calibrate.KubelkaMunk})
	require.NoError(t, err)
	s := &virtualshop.Shop{Name: "real pigments", Codes: codes, Light: virtualshop.TwoFlux{K1: c.Layer.K1, K2: c.Layer.K2},
		Level: 1, Dark: color.Constant(0.03), ChipGrams: 50, ScaleGrams: 0.01, Noise: calibrate.Noise{LabSD: 0.08, SpectrumSD: 0.001},
		Setting: calibrate.Setting{Thickness: 3, Backing: color.Constant(0.90), Specular: color.SpecularIncluded}}
	for i, curve := range c.Curves {
		if i == 0 {
			s.Resin = virtualshop.Curve{K: curve.K, S: curve.S}
			continue
		}
		s.Pigments = append(s.Pigments, virtualshop.Curve{K: curve.K, S: curve.S})
	}
	return s
}

// realChips reads the spectra of testdata/real_pigments/chips.csv: name, backing,
// thickness, a column per pigment, Lab of several lights, R400 to R700.
func realChips(t *testing.T) (codes []string, chips []calibrate.Chip) {
	f, err := os.Open("../../testdata/real_pigments/chips.csv")
	require.NoError(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	require.NoError(t, err)
	for i, row := range rows[1:] {
		c := calibrate.Chip{Name: row[0], Loadings: map[string]calibrate.PHR{}, BackingName: row[1], Backing: color.Constant(0.90), Spectrum: new(color.Reflectance),
			Measurement: color.Measurement{Geometry: color.Sphere, Specular: color.SpecularIncluded}, ChipGrams: 50, ScaleGrams: 0.01}
		if row[1] == "black" {
			c.Backing = color.Constant(0.03)
		}
		for k, name := range rows[0] {
			v, err := strconv.ParseFloat(row[k], 64)
			switch nm, notBand := strconv.Atoi(strings.TrimPrefix(name, "R")); {
			case k < 2 || strings.Contains(name, "_") && name != "thickness_mm":
				continue
			case name == "thickness_mm":
				c.Thickness = calibrate.ThicknessMM(v)
			case notBand == nil:
				c.Spectrum[(nm-color.FirstNM)/color.StepNM] = v
			default:
				c.Loadings[name] = calibrate.PHR(v)
				if i == 0 {
					codes = append(codes, name)
				}
			}
			require.NoError(t, err)
		}
		chips = append(chips, c)
	}
	return codes, chips
}
