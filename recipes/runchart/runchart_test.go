package runchart_test

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/recipes/runchart"
)

// A drawing is well-formed XML (encoding/xml) or begins as a PDF does (ISO
// 32000-1, 7.5.2), and the same charts give the same SVG.
func TestWrite(t *testing.T) {
	lower, upper := -0.4, 0.4
	charts := []runchart.Chart{
		{Of: "dE00", Cups: []int{1, 2, 4}, Values: []float64{0.3, 0.2, 1.4}, Mean: 0.6, Upper: &upper, Limit: 1, Outside: []int{4}, FromZero: true},
		{Of: "db", Cups: []int{1}, Values: []float64{0}, Lower: &lower, Upper: &upper},
		{Of: "<&>", Cups: []int{1}, Values: []float64{0}},
	}
	var svg, again, pdf bytes.Buffer
	require.NoError(t, runchart.Write(&svg, runchart.SVG, `a <"&> run`, charts))
	require.NoError(t, runchart.Write(&again, runchart.SVG, `a <"&> run`, charts))
	require.Equal(t, svg.String(), again.String())
	d, drawn := xml.NewDecoder(&svg), 0
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
		if _, is := token.(xml.StartElement); is {
			drawn++
		}
	}
	require.Greater(t, drawn, 30)
	require.NoError(t, runchart.Write(&pdf, runchart.PDF, "a run", charts))
	require.True(t, strings.HasPrefix(pdf.String(), "%PDF-1."))
	require.ErrorContains(t, runchart.Write(&pdf, "gif", "a run", charts), "give svg or pdf")
	require.ErrorContains(t, runchart.Write(&pdf, runchart.PDF, "a run", nil), "nothing to draw")
}

// TestRoundTicks: an axis is marked at few round numbers, cups at whole ones; common
// practice, no source.
func TestRoundTicks(t *testing.T) {
	for _, c := range []struct {
		from, to, least float64
		want            string
	}{
		{0.5, 12.5, 1, "5 10"},
		{0.5, 5.5, 1, "1 2 3 4 5"},
		{0.5, 1.5, 1, "1"},
		{0.5, 40.5, 1, "10 20 30 40"},
		{0, 1, 0, "0.0 0.2 0.4 0.6 0.8 1.0"},
		{-1.05, 0.09, 0, "-1.0 -0.5 0.0"},
		{-0.17, 0.26, 0, "-0.1 0.0 0.1 0.2"},
		{-0.004, 0.004, 0, "-0.004 -0.002 0.000 0.002 0.004"},
		{-0.5, 0.5, 0, "-0.4 -0.2 0.0 0.2 0.4"},
	} {
		require.Equal(t, c.want, strings.Join(runchart.RoundTicks(c.from, c.to, c.least), " "), "%g to %g", c.from, c.to)
	}
}
