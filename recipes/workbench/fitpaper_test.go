package workbench

import (
	"bytes"
	"image/png"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/recipes/papers"
)

// TestFitPaper: the report of a calibration shows it as it is stored and the chips
// that a plan of the next ones names, its charts are pictures, and it stores nothing.
func TestFitPaper(t *testing.T) {
	t.Parallel()
	if racing {
		t.Skip("counts")
	}
	b := newBench(t)
	before, err := b.archive.Head(t.Context())
	require.NoError(t, err)
	p, err := FitPaper(t.Context(), b, FitPaperRequest{Resin: "CLR", Shop: []string{"Shop"}})
	require.NoError(t, err)
	after, err := b.archive.Head(t.Context())
	require.NoError(t, err)
	require.Equal(t, before, after)

	shown, err := ShowCalibration(t.Context(), b, CalibrationRequest{Resin: "CLR"})
	require.NoError(t, err)
	require.Equal(t, shown.Calibration, p.Calibration)
	require.Len(t, p.Chips, len(shown.Chips))
	for i, c := range shown.Chips {
		require.Equal(t, c.Chip, p.Chips[i].Name)
		require.Equal(t, c.Chip, p.Fit.Chips[i].Chip)
	}
	plan, err := PlanNext(t.Context(), b, PlanNextRequest{Resin: "CLR"})
	require.NoError(t, err)
	require.Len(t, p.Next, len(plan.Chips))
	for i, c := range plan.Chips {
		require.Equal(t, c.Chip, p.Next[i].Name)
		require.NotEmpty(t, p.Next[i].Why)
	}
	require.Len(t, p.Charts, len(chartsOnPaper))
	for _, c := range p.Charts {
		_, err := png.DecodeConfig(bytes.NewReader(c.PNG))
		require.NoError(t, err)
		require.Contains(t, string(c.SVG), "<svg")
	}
	var page bytes.Buffer
	require.NoError(t, papers.Write(&page, p, papers.PDF, papers.Options{Size: papers.Letter}))

	_, err = FitPaper(t.Context(), b, FitPaperRequest{Resin: "CLR", Version: 99})
	require.ErrorContains(t, err, "99")
}
