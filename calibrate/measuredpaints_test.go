package calibrate_test

import (
	"encoding/csv"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/color"
)

// Films of unknown thickness: one unit stands for what is usual of them.
const (
	paintThickness   = 1
	paintThicknessSD = 0.3
	percentPerPHR    = 25 // neat paint counts as 4 phr in a resin that is nearly nothing
)

// measuredPaints reads testdata/measured_paints: pieces of real paints, each over
// white and over black (Geldof et al., Heritage Science 6:17 (2018)).
func measuredPaints(t testing.TB) (paints []string, readings []calibrate.Chip) {
	t.Helper()
	table := func(name string) [][]string {
		f, err := os.Open("../testdata/measured_paints/" + name)
		require.NoError(t, err)
		defer f.Close()
		r := csv.NewReader(f)
		r.Comment = '#'
		rows, err := r.ReadAll()
		require.NoError(t, err)
		return rows
	}
	spectrum := func(cells []string) (r color.Reflectance) {
		require.Len(t, cells, color.Bands)
		for b, cell := range cells {
			v, err := strconv.ParseFloat(cell, 64)
			require.NoError(t, err)
			r[b] = v
		}
		return r
	}
	cards := map[string]color.Reflectance{}
	for _, row := range table("cards.csv")[1:] {
		cards[row[0]+row[1]] = spectrum(row[2:])
	}
	rows := table("readings.csv")
	head := rows[0]
	paints = head[2 : len(head)-color.Bands]
	for _, row := range rows[1:] {
		r := spectrum(row[len(row)-color.Bands:])
		backing, known := cards[row[1]+row[0]]
		require.True(t, known, "card of %s", row[0])
		c := calibrate.Chip{
			Name: row[0] + " over " + row[1], Casting: row[0], Loadings: map[string]calibrate.PHR{}, Thickness: paintThickness, ThicknessSD: paintThicknessSD,
			BackingName: row[1], Backing: backing, Spectrum: &r,
			Measurement: color.Measurement{Geometry: color.Sphere, Specular: color.SpecularIncluded},
		}
		for i, paint := range paints {
			v, err := strconv.ParseFloat(row[2+i], 64)
			require.NoError(t, err)
			if v > 0 {
				c.Loadings[paint] = calibrate.PHR(v / percentPerPHR)
			}
		}
		readings = append(readings, c)
	}
	return paints, readings
}

// splitPaints parts the readings into those of pieces whose last letter is among
// letters, to fit, and the rest that are made of the same paints.
func splitPaints(readings []calibrate.Chip, letters string) (paints []string, fit, unseen []calibrate.Chip) {
	have := map[string]bool{}
	for _, c := range readings {
		if strings.ContainsRune(letters, rune(c.Name[2])) {
			fit = append(fit, c)
			for paint := range c.Loadings {
				if !have[paint] {
					have[paint] = true
					paints = append(paints, paint)
				}
			}
		}
	}
	for _, c := range readings {
		known := !strings.ContainsRune(letters, rune(c.Name[2]))
		for paint := range c.Loadings {
			known = known && have[paint]
		}
		if known {
			unseen = append(unseen, c)
		}
	}
	return paints, fit, unseen
}
