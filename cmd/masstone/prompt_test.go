package main

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/recipes/archive"
)

// typing is what a person types at the prompt, a line per answer.
func typing(lines ...string) *strings.Reader {
	return strings.NewReader(strings.Join(lines, "\n") + "\n")
}

func TestReadingsAtThePrompt(t *testing.T) {
	env, stdout, stderr := testEnv(t)
	env.Asks = true
	env.Stdin = typing(
		"chop", "chip", // of what
		"", "yy", // its name
		"Q", "D65/10", // the light
		"WH=1,ZZ=0.2", "WH=1,CR=0.3", // what is in it
		"grey", "", // over what
		"3 km", "2.5", // how thick
		"", "", // cup and scale
		"", "50 1 1", "50 1 x", "50.1 1 1.1", "50.1 1 9", "-", "50.2 1 1", "70 1 1", "", // readings
		"maybe", "y", // leave out the odd one
		"y", // store
	)
	require.Equal(t, exitDone, execute(context.Background(), env, []string{"reading", "add"}), stderr.String())
	for _, said := range []string{"readings are of a target", "give the name", "unknown illuminant", "unknown pigment", "unknown backing", "is no number",
		`"x" is not a number`, "Reading 4 does not belong to the others. Leave it out?", "answer y or n", `Store this as the reading of chip "yy"?`} {
		require.Contains(t, stderr.String(), said)
	}
	require.Contains(t, stdout.String(), "12.68  does not belong")
	require.Contains(t, stdout.String(), `chip "yy" added: mean of 3 readings under D65/10 50.10 1.00 1.03`)
	stdout.Reset()
	require.Equal(t, exitDone, execute(context.Background(), env, []string{"open", "masstone:chip/CLR/yy", "--json"}))
	var chip chipView
	require.NoError(t, json.Unmarshal(stdout.Bytes(), &chip))
	require.Equal(t, map[string]fig{"WH": 1, "CR": 0.3}, chip.Loadings)
	require.Equal(t, fig(2.5), chip.ThicknessMM)
	require.Equal(t, fig(50), *chip.ChipGrams)
	require.Len(t, chip.Readings, 3)
}

func TestThePromptStoresNothingUnlessAsked(t *testing.T) {
	for name, lines := range map[string][]string{
		"refused":   {"50 1 1", "", "n"},
		"ends":      {"50 1 1"},
		"ends soon": nil,
	} {
		t.Run(name, func(t *testing.T) {
			env, stdout, stderr := testEnv(t)
			env.Asks = true
			env.Stdin = typing(append([]string{"", "", ""}, lines...)...)
			code := execute(context.Background(), env, []string{"reading", "add", "target", "part", "--illuminant", "D65"})
			require.Equal(t, name == "refused", code == exitDone)
			require.Contains(t, stderr.String(), "nothing was stored")
			stdout.Reset()
			require.Equal(t, exitDone, execute(context.Background(), env, []string{"target", "list", "--json"}))
			require.NotContains(t, stdout.String(), "part")
		})
	}
}

func TestAnInterruptIsHeardAtThePrompt(t *testing.T) {
	env, _, stderr := testEnv(t)
	env.Asks = true
	env.Stdin = silent{}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	require.Equal(t, exitFailed, execute(ctx, env, []string{"reading", "add"}))
	require.Contains(t, stderr.String(), "interrupted; nothing of this command was stored")
}

// silent is a terminal at which nobody types.
type silent struct{}

func (silent) Read([]byte) (int, error) { select {} }

// Of two readings, six values: one L* lies outside its interval, and with it one
// reading outside its region and its bound.
func TestCoverageIsPooledOverChannels(t *testing.T) {
	env, stdout, stderr := testEnv(t)
	require.Equal(t, exitDone, execute(context.Background(), env, []string{"predict", "CLR", "--phr", "WH=1,CR=0.2", "--json"}), stderr.String())
	var mix mixView
	require.NoError(t, json.Unmarshal(stdout.Bytes(), &mix))
	off := float64(mix.Lab.L) + 4*float64(mix.Half95.L)
	file := fmt.Sprintf("mix,WH,CR,L_D65,a_D65,b_D65\nat,1,0.2,%[1]g,%[2]g,%[3]g\noff,1,0.2,%[4]g,%[2]g,%[3]g\n", mix.Lab.L, mix.Lab.A, mix.Lab.B, off)
	require.NoError(t, os.WriteFile(filepath.Join(env.Dir, "off.csv"), []byte(file), 0o644))
	stdout.Reset()
	require.Equal(t, exitDone, execute(context.Background(), env, []string{"predict", "CLR", "--file", "off.csv", "--json"}), stderr.String())
	var got struct {
		Rows    []rowView
		Summary summaryView
		ByLight map[string]summaryView `json:"by_light"`
	}
	require.NoError(t, json.Unmarshal(stdout.Bytes(), &got))
	require.InDelta(t, 5.0/6, float64(got.Summary.Coverage), 1e-6)
	require.InDelta(t, 0.5, float64(got.Summary.Region), 1e-6)
	require.InDelta(t, 0.5, float64(got.Summary.Upper95Share), 1e-6)
	require.Equal(t, got.Summary, got.ByLight["D65/10"])
	require.True(t, *got.Rows[0].Inside)
	require.False(t, *got.Rows[1].Inside)
}

// The table of a starting plan, with readings filled in, is taken in as it is
// and is enough for a fit.
func TestAFilledInPlanIsImported(t *testing.T) {
	env, stdout, stderr := testEnv(t)
	run := func(args ...string) []byte {
		t.Helper()
		stdout.Reset()
		require.Equal(t, exitDone, execute(context.Background(), env, args), stderr.String())
		return stdout.Bytes()
	}
	run("resin", "add", "NEW", "--mix", "1:1", "--pigment-side", "B", "--max-phr", "4")
	run("plan", "start", "NEW", "--pigments", "WH,CR", "--whites", "WH", "--evidence", "lab", "--out", "plan.csv")
	f, err := os.Open(filepath.Join(env.Dir, "plan.csv"))
	require.NoError(t, err)
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.NoError(t, f.Close())
	for _, row := range rows[1:] {
		mix := "WH=" + row[6] + ",CR=" + row[5]
		require.Equal(t, []string{"CR", "WH"}, rows[0][5:7])
		var is mixView // what another shop's calibration says stands for a reading
		require.NoError(t, json.Unmarshal(run("predict", "CLR", "--phr", mix, "--over", row[1], "--thickness", row[2], "--json"), &is))
		for i, v := range []fig{is.Lab.L, is.Lab.A, is.Lab.B} {
			row[len(row)-3+i] = fmt.Sprintf("%.2f", float64(v))
		}
	}
	var filled strings.Builder
	require.NoError(t, csv.NewWriter(&filled).WriteAll(rows))
	require.NoError(t, os.WriteFile(filepath.Join(env.Dir, "filled.csv"), []byte(filled.String()), 0o644))
	var report importView
	require.NoError(t, json.Unmarshal(run("chip", "import", "filled.csv", "--resin", "NEW", "--json"), &report))
	require.Len(t, report.Added, len(rows)-1)
	var fit fitView
	require.NoError(t, json.Unmarshal(run("fit", "NEW", "--layer", "km", "--json"), &fit))
	require.Equal(t, []string{"CR", "WH"}, fit.Pigments)
	require.Len(t, fit.Chips, len(rows)-1)
}

func TestSuspectsAreShown(t *testing.T) {
	env, stdout, _ := testEnv(t)
	require.Equal(t, exitDone, execute(context.Background(), env, []string{"chip", "list"}))
	b, err := archive.Open(context.Background(), filepath.Join(env.Dir, "bench.db"), env.archiveOptions())
	require.NoError(t, err)
	defer b.Close()
	stored, cal, err := calibrationOn(context.Background(), b, "CLR", 0)
	require.NoError(t, err)
	archived, err := b.Chips(context.Background(), "CLR")
	require.NoError(t, err)
	chips, _, err := evidenceOf(context.Background(), b, archived)
	require.NoError(t, err)
	cal.Suspects = []calibrate.Suspect{
		{Chips: []string{"WH-2"}, Cause: calibrate.LoadingSlip, Pigment: "WH", Factor: 0.1, Sigma: 12, Taken: true, Odds: 8},
		{Chips: []string{"clear"}, Cause: calibrate.Unexplained, Sigma: 9},
	}
	stdout.Reset()
	printFit(env, stored, cal, chips)
	require.Regexp(t, `(?m)^WH-2 .* suspect, see below$`, stdout.String())
	text := strings.Join(strings.Fields(stdout.String()), " ")
	require.Contains(t, text, "suspect chip WH-2: loading of WH is 10 times less than written")
	require.Contains(t, text, "the fit takes it for that")
	require.Contains(t, text, "the fit hears it faintly")
	stdout.Reset()
	require.NoError(t, env.emit(viewFit(stored, calibrate.AllEvidence, cal, chips, nil)))
	var v fitView
	require.NoError(t, json.Unmarshal(stdout.Bytes(), &v))
	require.Len(t, v.Suspects, 2)
	require.Equal(t, 0.1, v.Suspects[0].Factor)
	require.True(t, v.Suspects[0].Taken)
}
