package workbench

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes/archive"
)

// castChips puts chips on the bench as they would read in the invented shop,
// under D65 and, of those named in under, that light instead.
func castChips(t testing.TB, b *Bench, resin string, chips map[string]map[string]float64, under map[string]color.Condition) {
	t.Helper()
	shop := testShop()
	var cards []archive.Chip
	for name, loadings := range chips {
		light, other := under[name]
		if !other {
			light = color.D65Ten()
		}
		lab := archive.LabOf(shop.Color(phrs(loadings), shop.Setting, light))
		cards = append(cards, archive.Chip{Resin: resin, Name: name, Loadings: loadings, Backing: "white", ThicknessMM: float64(shop.Setting.Thickness),
			Readings: []archive.Reading{{Lab: &lab, Geometry: "d/8", Specular: "included"}}})
	}
	_, err := b.archive.ImportChips(t.Context(), resin, cards, archive.Refuse)
	require.NoError(t, err)
}

func addResin(t testing.TB, b *Bench, code string) {
	t.Helper()
	_, err := b.archive.PutResin(t.Context(), archive.Resin{Code: code, MixA: 1, MixB: 1, PigmentSide: "B"}, archive.Refuse)
	require.NoError(t, err)
}

// TestFitOfFewChips: one chip or two, whatever was read of them, give a
// calibration of finite numbers that says it cannot be judged, or one line.
func TestFitOfFewChips(t *testing.T) {
	t.Parallel()
	if racing {
		t.Skip("fits, one after the other")
	}
	red := testShop().Codes[2]
	some := []map[string]float64{{red: 1}, {"WH": 2}, {}, {"WH": 1, red: 0.2}}
	for name, of := range map[string]func(archive.Lab, color.Reflectance) archive.Reading{
		"Lab": func(l archive.Lab, _ color.Reflectance) archive.Reading { return archive.Reading{Lab: &l} },
		"spectrum": func(_ archive.Lab, r color.Reflectance) archive.Reading {
			s := archive.Spectrum{FirstNM: 400, StepNM: 10, R: r[:]}
			return archive.Reading{Spectrum: &s}
		},
	} {
		for _, n := range []int{1, 2, len(some)} {
			for _, first := range []int{0, 2} {
				b := newBench(t)
				addResin(t, b, "NEW")
				var cards []archive.Chip
				for i := range n {
					mix := some[(first+i)%len(some)]
					r := testShop().Reflectance(phrs(mix), testShop().Setting)
					cards = append(cards, archive.Chip{Resin: "NEW", Name: fmt.Sprint("chip ", i), Loadings: mix, Backing: "white", ThicknessMM: float64(testShop().Setting.Thickness),
						Readings: []archive.Reading{of(archive.LabOf(testShop().Color(phrs(mix), testShop().Setting, color.D65Ten())), r)}})
				}
				_, err := b.archive.ImportChips(t.Context(), "NEW", cards, archive.Refuse)
				require.NoError(t, err)
				v, err := Fit(t.Context(), b, FitRequest{Resin: "NEW"})
				if err != nil {
					require.NotContains(t, err.Error(), "\n")
					require.NotContains(t, err.Error(), "json")
					require.Equal(t, 2, first, "a chip of bare resin alone is the one thing not fitted")
					continue
				}
				_, err = json.Marshal(v)
				require.NoError(t, err, "%s, %d chips", name, n)
			}
		}
	}
}

func TestFitIsTheNextCalibration(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	v, err := Fit(t.Context(), b, FitRequest{Resin: testResin, Layer: calibrate.KubelkaMunk})
	require.NoError(t, err)
	require.Equal(t, "CLR v2", v.Calibration)
	require.Equal(t, 2, v.Version)
	require.ElementsMatch(t, testShop().Codes, v.Pigments)
	require.Len(t, v.Tried, 1)
	require.Equal(t, "D65/10", v.Main)
	require.Empty(t, v.Remarks)
	stored, err := b.archive.Calibration(t.Context(), testResin, 0)
	require.NoError(t, err)
	require.Equal(t, v.Calibration, stored.Name())
	chips, err := b.archive.Chips(t.Context(), testResin)
	require.NoError(t, err)
	require.Len(t, v.Chips, len(chips))
	require.Len(t, stored.Chips, len(chips))
	for i, c := range chips {
		assert.Equal(t, c.Name, v.Chips[i].Chip)
		assert.InDelta(t, c.Readings[0].Lab.L, float64(v.Chips[i].Measured.L), 1e-9, "measured is what was read of the chip")
	}

	_, err = b.archive.PutPigment(t.Context(), archive.Pigment{Code: "ZN"}, archive.Refuse)
	require.NoError(t, err)
	v, err = Fit(t.Context(), b, FitRequest{Resin: testResin, Layer: calibrate.KubelkaMunk, DryRun: true})
	require.NoError(t, err)
	require.Empty(t, v.Calibration)
	require.Zero(t, v.Version)
	require.Len(t, v.Remarks, 1)
	require.Contains(t, v.Remarks[0].Text, "no chip holds ZN")
	all, err := b.archive.Calibrations(t.Context(), testResin)
	require.NoError(t, err)
	require.Len(t, all, 2, "a dry run stores nothing")
}

// TestFewChips: chips of bare resin alone are refused in one line, a single chip
// of a pigment is fitted and nothing is claimed of how good the fit is.
func TestFewChips(t *testing.T) {
	b := newBench(t)
	addResin(t, b, "NEW")
	request := FitRequest{Resin: "NEW", Layer: calibrate.KubelkaMunk}
	_, err := Fit(t.Context(), b, request)
	require.ErrorContains(t, err, "no chip of NEW to fit")
	castChips(t, b, "NEW", map[string]map[string]float64{"bare": {}}, nil)
	_, err = Fit(t.Context(), b, request)
	require.ErrorContains(t, err, "1 chip of bare resin")
	castChips(t, b, "NEW", map[string]map[string]float64{"again": {}}, nil)
	_, err = Fit(t.Context(), b, request)
	require.ErrorContains(t, err, "2 chips of bare resin")
	require.ErrorContains(t, err, "one chip of a pigment is the least")
	require.NotContains(t, err.Error(), "\n")
	_, err = b.archive.Calibration(t.Context(), "NEW", 0)
	require.ErrorIs(t, err, archive.ErrNotFound)

	addResin(t, b, "ONE")
	castChips(t, b, "ONE", map[string]map[string]float64{"white": {"WH": 1}}, nil)
	v, err := Fit(t.Context(), b, FitRequest{Resin: "ONE", Layer: calibrate.KubelkaMunk})
	require.NoError(t, err)
	require.Equal(t, "ONE v1", v.Calibration)
	require.Zero(t, v.LeaveOut.Chips)
	require.True(t, v.Chips[0].Vague)
	document, err := json.Marshal(v)
	require.NoError(t, err)
	require.NotContains(t, string(document), "null")
}

func TestFitFromLess(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	a10 := color.Under(color.A, color.TenDegree)
	castChips(t, b, testResin, map[string]map[string]float64{"lamplight": {"WH": 1}}, map[string]color.Condition{"lamplight": a10})
	of := func(e calibrate.Evidence, main color.Condition) (FitResult, error) {
		return Fit(t.Context(), b, FitRequest{Resin: testResin, Layer: calibrate.KubelkaMunk, Evidence: e, Main: main})
	}
	v, err := of(calibrate.LabEvidence, color.Condition{})
	require.NoError(t, err)
	require.Equal(t, "lab", v.Evidence)
	require.Equal(t, []string{"D65/10"}, v.Lights)
	require.Contains(t, v.Warnings, "made from Lab under D65/10 alone: the chips may hold more than that")
	require.Len(t, v.Remarks, 2)
	require.Contains(t, v.Remarks[0].Text, "lamplight")
	require.Contains(t, v.Remarks[1].Text, "CLR v2 is now the newest")
	stored, err := b.archive.Calibration(t.Context(), testResin, 0)
	require.NoError(t, err)
	require.Len(t, stored.Chips, len(v.Chips), "only the chips that were fitted are those of the calibration")
	cards, err := b.archive.Chips(t.Context(), testResin)
	require.NoError(t, err)
	require.Len(t, cards, len(v.Chips)+1)
	for _, c := range cards {
		require.Equal(t, c.Name != "lamplight", slices.Contains(stored.Chips, c.Ref), c.Name)
	}

	v, err = of(calibrate.LabEvidence, a10)
	require.NoError(t, err)
	require.Equal(t, []string{"WH"}, v.Pigments, "no pigment is fitted that the chips left do not hold")
	_, err = of(calibrate.LabEvidence, color.Under(color.FL2, color.TenDegree))
	require.ErrorContains(t, err, "no chip was read under FL2/10")
	_, err = of(calibrate.SpectralEvidence, color.Condition{})
	require.ErrorContains(t, err, "no chip has a spectrum")

	all, err := of("", color.Condition{})
	require.NoError(t, err)
	require.Equal(t, "all", all.Evidence)
	require.Empty(t, all.Warnings)
	require.Empty(t, all.Remarks)
}

// TestReportThatCannotBeKept: where a chart cannot be written the fit is not
// stored either.
func TestReportThatCannotBeKept(t *testing.T) {
	b := newBench(t)
	drawn := map[string]bool{}
	full := errors.New("the disk is full")
	request := FitRequest{Resin: testResin, Layer: calibrate.KubelkaMunk, Draw: func(name, format string, draw func(io.Writer) error) error {
		if name == "gamut" {
			return full
		}
		if format != "png" { // the slow ones
			require.NoError(t, draw(io.Discard))
		}
		require.False(t, drawn[name+"."+format])
		drawn[name+"."+format] = true
		return nil
	}}
	_, err := Fit(t.Context(), b, request)
	require.ErrorIs(t, err, full)
	require.True(t, drawn["curves-WH.svg"])
	all, err := b.archive.Calibrations(t.Context(), testResin)
	require.NoError(t, err)
	require.Len(t, all, 1)
}

func TestFitRefuses(t *testing.T) {
	b := newBench(t)
	for field, r := range map[string]FitRequest{
		"layer": {Layer: "three-flux"},
		"index": {Layer: calibrate.KubelkaMunk, Index: 1.5},
		"Index": {Layer: calibrate.ExactLayer, Index: 1},
	} {
		r.Resin = testResin
		_, err := Fit(t.Context(), b, r)
		var e *Error
		require.ErrorAs(t, err, &e, field)
		require.Equal(t, Invalid, e.Kind)
		require.Equal(t, strings.ToLower(field), e.Field)
	}
	_, err := Fit(t.Context(), b, FitRequest{Resin: "CLX"})
	require.Equal(t, NotFound, KindOf(err))
}

func TestSuspectsAreTold(t *testing.T) {
	slip := suspectOf(calibrate.Suspect{Chips: []string{"WH-2"}, Cause: calibrate.LoadingSlip, Pigment: "WH", Factor: 0.1, Sigma: 12, Taken: true, Odds: 8})
	require.Equal(t, 0.1, float64(*slip.Factor))
	require.True(t, slip.Taken)
	require.Contains(t, slip.Says, "loading of WH is 10 times less than written")
	over := suspectOf(calibrate.Suspect{Chips: []string{"WH-2"}, Cause: calibrate.WrongBacking, Backing: "black", Written: "white"})
	require.Nil(t, over.Factor)
	require.Equal(t, []string{"black", "white"}, []string{over.Over, over.WrittenOver})
}
