package page_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"masstone/recipes/workbench"
)

// TestRunPages: a run is begun, poured cup by cup and read; it drifts, which Today
// and the run say, with its chart and certificate. Where the run stands is what the
// verb says of it. The readings are invented.
func TestRunPages(t *testing.T) {
	b := workedBench(t)
	v := visit(t, b, nil)
	_, err := workbench.AddMould(t.Context(), b, workbench.AddMouldRequest{Name: "M <1>", Cavities: 3})
	require.NoError(t, err)
	v.open("/runs").sees("No run yet").send("/runs", "parts", "30", "note", "two boxes").sees("0 of 30 parts cast", "two boxes")
	require.Equal(t, "/run/RUN1", v.at.Path)
	for _, wrong := range [][]string{{"batch", ""}, {"batch", "B99"}, {"batch", "B1", "parts", "0"}, {"batch", "B1", "room", "21,5"}} {
		v.open("/run/RUN1").send("/run/RUN1/pour", wrong...)
		require.GreaterOrEqual(t, v.status, 400, wrong)
		require.Len(t, v.wrongs(), 1, wrong)
	}
	driftingRun(t, v)
	v.open("/run/RUN1")
	run, err := workbench.ShowRun(t.Context(), b, "RUN1")
	require.NoError(t, err)
	require.NotEmpty(t, run.Drift)
	require.Equal(t, "M <1>", run.Cups[0].Mould)
	v.sees(fmt.Sprintf("%d of 30 parts cast", run.Cast), fmt.Sprintf("%.2f", run.Summary.Mean), fmt.Sprintf("%.2f", run.Summary.Worst), "cup", "M <1>")
	require.Contains(t, strings.ToLower(v.text()), strings.ToLower(run.Drift[1:]))
	require.Contains(t, v.links(), "/run/RUN1/chart.svg")
	require.Contains(t, v.links(), "/run/RUN1/certificate/paper.pdf")
	v.open("/").sees("Runs that drift", "RUN1")
	v.open("/runs").sees("RUN1", fmt.Sprintf("%d of 30", run.Cast))
	v.open("/run/RUN1/chart.svg")
	require.Equal(t, http.StatusOK, v.status)
	require.Contains(t, v.raw, "<svg")
	for _, paper := range []string{"certificate", "sheet"} {
		require.Contains(t, v.open("/run/RUN1").links(), "/run/RUN1/"+paper+"/paper.pdf")
		require.True(t, strings.HasPrefix(v.open("/run/RUN1/"+paper+"/paper.pdf").raw, "%PDF-"))
	}
	require.True(t, strings.HasPrefix(v.open("/run/RUN1/sheet/paper.pdf?cup-parts=2").raw, "%PDF-"))
	require.Equal(t, http.StatusUnprocessableEntity, v.open("/run/RUN1/sheet/paper.pdf?cup-parts=-2").status)
	require.Equal(t, http.StatusNotFound, v.open("/run/RUN1/sheet/paper.pdf?batch=B99").status)

	// the report of the fit
	v.open("/calibration?resin=CLR")
	require.Contains(t, v.links(), "/calibration/CLR/1/paper.pdf")
	require.True(t, strings.HasPrefix(v.open("/calibration/CLR/1/paper.pdf").raw, "%PDF-"))
	require.Equal(t, http.StatusNotFound, v.open("/calibration/CLR/99/paper.pdf").status)
	require.Equal(t, http.StatusNotFound, v.open("/calibration/CLR/x/paper.pdf").status)
}

// driftingRun pours twelve cups of a run and reads one part of each; from the
// seventh on the parts come out darker, as after a change that nobody noticed.
func driftingRun(t testing.TB, v *visitor) {
	t.Helper()
	for n := range 12 {
		v.open("/run/RUN1").send("/run/RUN1/pour", "batch", "B1", "parts", "2", "mould", "M <1>", "room", "21", "note", fmt.Sprint("cup ", n+1))
		if v.status == http.StatusConflict { // within a minute of one like it
			v.send("/run/RUN1/pour", "again", "yes")
		}
		require.Equal(t, http.StatusOK, v.status, v.text())
		dark := 0.0
		if n > 5 {
			dark = 0.9
		}
		pour := fmt.Sprintf("/pour/P%d", n+2)
		v.open(pour).send(pour+"/read", "lab", fmt.Sprintf("%.2f,-10.3,%.2f", 66.4-dark+0.1*float64(n%3-1), -2.6+0.05*float64(n%2)), "illuminant", "D65/10", "part", "1").sees("CIEDE2000")
	}
}

// TestJarPages: a pre-dilution is stirred, kept and shown with what moved.
func TestJarPages(t *testing.T) {
	v := visit(t, workedBench(t), nil)
	v.open("/jars").sees("No jar yet").send("/jars", "pigment", "FG", "paste-g", "0.31", "side-g", "15.02", "note", "<b>stirred</b>").sees("15.33 g left", "2.0 % paste", "K-2207", "<b>stirred</b>")
	require.Equal(t, "/jar", v.at.Path)
	v.sees("FG 0.31 g", "ada")
	v.open("/jars").sees("D1", "15.33")
	v.open("/shelf")
	require.Contains(t, v.links(), "/jars")
	v.open("/jars").send("/jars", "pigment", "FG", "paste-g", "0.31", "side-g", "15.02", "note", "<b>stirred</b>")
	require.Equal(t, http.StatusConflict, v.status)
	v.send("/jars", "again", "yes").sees("15.33 g left")
	v.open("/jars").sees("D2")
	v.open("/jars").send("/jars", "name", "D1", "paste-g", "0.4", "side-g", "10").sees("another name")
}

// TestKeptPlans: a plan is kept by its number, which its page, the list, Today and
// the code on its paper lead to; chips that were read are ticked.
func TestKeptPlans(t *testing.T) {
	b := workedBench(t)
	v := visit(t, b, nil)
	v.open("/plan").send("/plan/next", "count", "2")
	v.ends()
	require.Regexp(t, `^/plan/PL\d+$`, v.at.Path)
	plan := strings.TrimPrefix(v.at.Path, "/plan/")
	v.sees("2 chips", "0 read")
	v.open("/plan").sees(plan)
	v.open("/").sees("To cast", plan, "0 of 2 chips read")
	require.Equal(t, "/plan/"+plan, v.open("/open?what=masstone:plan/"+plan).at.Path)
	require.True(t, strings.HasPrefix(v.open("/plan/"+plan+"/plan/paper.pdf").raw, "%PDF-"))
	require.True(t, strings.HasPrefix(v.open("/plan/"+plan+"/labels/paper.pdf").raw, "%PDF-"))
	kept, err := workbench.ShowPlan(t.Context(), b, plan)
	require.NoError(t, err)
	c := kept.Chips[0]
	pairs := []string{"name", c.Chip, "lab", "60,1,2", "illuminant", "D65/10", "over", c.Over}
	for code, phr := range c.Loadings {
		pairs = append(pairs, "phr."+code, fmt.Sprint(float64(phr)))
	}
	v.open("/chips?resin=CLR").send("/readings/look", pairs...)
	require.Equal(t, http.StatusOK, v.status, v.text())
	v.send(storeOf(v))
	v.open("/plan/"+plan).sees("1 read", "✓ read")
}

// storeOf is the form that stores what a page shows.
func storeOf(v *visitor) string {
	v.t.Helper()
	f := find(v.page, func(n *html.Node) bool {
		return n.Data == "form" && attr(n, "method") == "post" && strings.HasPrefix(attr(n, "action"), "/readings/")
	})
	require.NotNil(v.t, f, v.text())
	return attr(f, "action")
}

// TestCupsOfABatch: of a batch for several cups all but the last side goes into one
// pot; the page then says what goes into each cup, as the sheet does.
func TestCupsOfABatch(t *testing.T) {
	b := workedBench(t)
	v := visit(t, b, nil)
	v.open("/recipe/R1").send("/batch", "grams", "240", "max-cup", "90")
	id := strings.TrimPrefix(v.at.Path, "/batch/")
	sheet, _, err := workbench.ShowBatch(t.Context(), b, id, nil)
	require.NoError(t, err)
	require.Len(t, sheet.Cups, 3)
	last := sheet.Lines[len(sheet.Lines)-1]
	var in []string
	for _, l := range sheet.Lines[:len(sheet.Lines)-1] {
		in = append(in, "s."+l.Item, l.Grams.At(sheet.Step))
	}
	v.open(link("/batch/"+id, in...)).sees("All is in the pot", "side "+last.Item)
	for _, c := range sheet.Cups {
		v.sees(c.Pigmented.At(sheet.Step), c.Other.At(sheet.Step), c.Total.At(sheet.Step))
	}
	v.send("/pour", "room", "21")
	p, err := workbench.ShowPour(t.Context(), b, strings.TrimPrefix(v.at.Path, "/pour/"))
	require.NoError(t, err)
	require.InDelta(t, last.Grams.Grams(), float64(p.Lines[len(p.Lines)-1].Grams), 1e-9)
}
