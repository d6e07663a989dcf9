package color

import (
	"encoding/csv"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
)

// figures is one row of a table of outside figures, by column name.
type figures map[string]string

// readFigures reads a table under ../testdata.
func readFigures(t testing.TB, path string) []figures {
	t.Helper()
	f, err := os.Open("../testdata/" + path)
	require.NoError(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	all, err := r.ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(all), 1, "%s holds no rows", path)
	var rows []figures
	for _, cells := range all[1:] {
		row := figures{}
		for i, name := range all[0] {
			row[name] = cells[i]
		}
		rows = append(rows, row)
	}
	return rows
}

func (f figures) num(t testing.TB, column string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(f[column], 64)
	require.NoError(t, err, "column %s", column)
	return v
}

func (f figures) triple(t testing.TB, x, y, z string) [3]float64 {
	t.Helper()
	return [3]float64{f.num(t, x), f.num(t, y), f.num(t, z)}
}

func (f figures) spectrum(t testing.TB, first, last, step int) Spectrum {
	t.Helper()
	s := Spectrum{FirstNM: first, StepNM: step}
	for nm := first; nm <= last; nm += step {
		s.R = append(s.R, f.num(t, "R"+strconv.Itoa(nm)))
	}
	return s
}
