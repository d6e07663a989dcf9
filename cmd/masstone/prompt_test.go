package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/recipes/figure"
	"masstone/recipes/workbench"
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
	var chip workbench.Chip
	require.NoError(t, json.Unmarshal(stdout.Bytes(), &chip))
	require.Equal(t, map[string]figure.Number{"WH": 1, "CR": 0.3}, chip.Loadings)
	require.Equal(t, figure.Number(2.5), chip.ThicknessMM)
	require.Equal(t, figure.Number(50), *chip.ChipGrams)
	require.Len(t, chip.Readings, 3)
}

// A label is scanned at the first question, and only the readings are asked for.
func TestAPlannedChipAtThePrompt(t *testing.T) {
	env, stdout, stderr := testEnv(t)
	require.Equal(t, exitDone, execute(context.Background(), env, []string{"resin", "add", "NEW", "--mix", "1:1", "--pigment-side", "B"}), stderr.String())
	require.Equal(t, exitDone, execute(context.Background(), env, []string{"plan", "start", "NEW", "--pigments", "WH", "--evidence", "lab"}), stderr.String())
	env.Asks = true
	env.Stdin = typing("masstone:chip/NEW/WH2-white", "95 0 2", "95.1 0 2", "95 0 2.1", "", "y")
	require.Equal(t, exitDone, execute(context.Background(), env, []string{"reading", "add"}), stderr.String())
	require.Contains(t, stdout.String(), `chip "WH2-white" added: mean of 3 readings under D65/10 95.03 0.00 2.03`)
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
		mix := "WH=" + row[7] + ",CR=" + row[6]
		require.Equal(t, []string{"CR", "WH"}, rows[0][6:8])
		var is workbench.PredictResult // what another shop's calibration says stands for a reading
		require.NoError(t, json.Unmarshal(run("predict", "CLR", "--phr", mix, "--over", row[1], "--thickness", row[3], "--json"), &is))
		for i, v := range []figure.Number{is.Lab.L, is.Lab.A, is.Lab.B} {
			row[len(row)-3+i] = fmt.Sprintf("%.2f", float64(v))
		}
	}
	var filled strings.Builder
	require.NoError(t, csv.NewWriter(&filled).WriteAll(rows))
	require.NoError(t, os.WriteFile(filepath.Join(env.Dir, "filled.csv"), []byte(filled.String()), 0o644))
	var report workbench.ImportedChips
	require.NoError(t, json.Unmarshal(run("chip", "import", "filled.csv", "--resin", "NEW", "--json"), &report))
	require.Len(t, report.Added, len(rows)-1)
	var fit workbench.FitResult
	require.NoError(t, json.Unmarshal(run("fit", "NEW", "--layer", "km", "--json"), &fit))
	require.Equal(t, []string{"CR", "WH"}, fit.Pigments)
	require.Len(t, fit.Chips, len(rows)-1)
}

func TestSuspectsAreShown(t *testing.T) {
	var stdout bytes.Buffer
	env := &Env{Stdout: &stdout}
	printFit(env, workbench.FitResult{Chips: []workbench.FittedChip{{Chip: "WH-2", Inside: true}, {Chip: "WH-3", Inside: true}}, Suspects: []workbench.Suspect{
		{Chips: []string{"WH-2"}, Taken: true, Says: "chip WH-2: loading of WH is 10 times less than written; correct the record or read it again"},
		{Chips: []string{"clear"}, Says: "chip clear agrees with no other; read it again"},
	}})
	require.Regexp(t, `(?m)^WH-2 .* suspect, see below$`, stdout.String())
	require.NotRegexp(t, `(?m)^WH-3 .* suspect`, stdout.String())
	text := strings.Join(strings.Fields(stdout.String()), " ")
	require.Contains(t, text, "suspect chip WH-2: loading of WH is 10 times less than written")
	require.Contains(t, text, "the fit takes it for that")
	require.Contains(t, text, "the fit hears it faintly")
}
