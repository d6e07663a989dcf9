package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/require"

	"masstone/color"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
)

// testEnv is an environment on a ready bench of the invented shop.
func testEnv(t *testing.T) (env *Env, stdout, stderr *bytes.Buffer) {
	t.Helper()
	bench, err := readyBench()
	require.NoError(t, err)
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "bench.db"), bench, 0o644))
	stdout, stderr = new(bytes.Buffer), new(bytes.Buffer)
	return &Env{Stdin: strings.NewReader(""), Stdout: stdout, Stderr: stderr, Now: time.Now, Who: "ada", Dir: dir,
		Getenv: func(name string) string { return map[string]string{"MASSTONE_BENCH": "bench.db"}[name] }}, stdout, stderr
}

func TestPanicIsOneLine(t *testing.T) {
	env, stdout, stderr := testEnv(t)
	env.Getenv = func(string) string { panic("a fault\nof ours") }
	require.Equal(t, exitFailed, execute(context.Background(), env, []string{"resin", "list"}))
	require.Empty(t, stdout.String())
	require.Equal(t, 1, strings.Count(stderr.String(), "\n"))
	require.Contains(t, stderr.String(), "internal fault (a fault of ours)")
	require.Contains(t, stderr.String(), "report")
}

func TestInterruptedFitStoresNothing(t *testing.T) {
	env, _, stderr := testEnv(t)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	require.Equal(t, exitFailed, execute(ctx, env, []string{"fit", "CLR"}))
	require.Equal(t, "interrupted; nothing of this command was stored\n", stderr.String())
	stderr.Reset()
	require.Equal(t, exitMisuse, execute(context.Background(), env, []string{"predict", "CLR", "--phr", "WH=1", "--calibration", "2"}))
	require.Contains(t, stderr.String(), "CLR v2")
}

func TestSwatchesOnlyWhereTheyShow(t *testing.T) {
	for _, shown := range []bool{true, false} {
		env, stdout, _ := testEnv(t)
		env.Color = shown
		require.Equal(t, exitDone, execute(context.Background(), env, []string{"chip", "list"}))
		require.Equal(t, shown, strings.Contains(stdout.String(), "\x1b[48;2;"))
	}
}

func TestSwatch(t *testing.T) {
	env := &Env{Color: true}
	// mid grey, L* 50: sRGB 119 by the published transform (IEC 61966-2-1)
	require.Equal(t, "\x1b[48;2;119;119;119m   \x1b[0m", env.swatch(color.Lab{L: 50, Under: color.D65Ten()}))
	require.Empty(t, (&Env{}).swatch(color.Lab{L: 50, Under: color.D65Ten()}))
	require.Contains(t, screen(color.Lab{L: 50, A: 120, Under: color.D65Ten()}), "nearest a screen can show")
}

func TestTableAligns(t *testing.T) {
	table := newTable("name", ">phr")
	table.add("Weiß", "1")
	table.add("白", "12.5")
	table.add("a\x1b[31mb", "3")
	var out bytes.Buffer
	table.print(&out)
	require.Equal(t, "name      phr\nWeiß        1\n白       12.5\na [31mb     3\n", out.String())
}

func TestMeasures(t *testing.T) {
	for _, c := range []struct {
		m    measure
		text string
		want float64
		says string
	}{
		{inMM, "3", 3, ""},
		{inMM, "3mm", 3, ""},
		{inMM, " 0.3 CM ", 3, ""},
		{inGrams, "250g", 250, ""},
		{inGrams, "0.25kg", 250, ""},
		{inGrams, "40mg", 0.04, ""},
		{inML, "18.5ml", 18.5, ""},
		{inML, "0.5l", 500, ""},
		{perML, "1.05g/ml", 1.05, ""},
		{perML, "1050 kg/m3", 1.05, ""},
		{inPHR, "0.2phr", 0.2, ""},
		{inPHR, "0", 0, ""},
		{aShare, "98%", 0.98, ""},
		{aShare, "0.98", 0.98, ""},
		{aTimes, "4x", 4, ""},
		{inMM, "3,0", 0, "decimal point"},
		{inMM, "", 0, "is no number"},
		{inMM, "mm", 0, "is no number"},
		{inMM, "3 4", 0, "is no number"},
		{inMM, "0x10", 0, "is no number"},
		{inMM, "inf", 0, "is no number"},
		{inMM, "nan", 0, "is no number"},
		{inMM, "1e999", 0, "is no number"},
		{inMM, "0", 0, "out of range"},
		{inMM, "-3", 0, "out of range"},
		{inMM, "3kg", 0, "is no number"},
		{inGrams, "1e9", 0, "out of range"},
		{aShare, "980%", 0, "out of range"},
	} {
		t.Run(c.text, func(t *testing.T) {
			got, err := c.m.Parse(c.text)
			if c.says != "" {
				require.ErrorContains(t, err, c.says)
				require.NotContains(t, err.Error(), "\n")
				return
			}
			require.NoError(t, err)
			require.InDelta(t, c.want, got, 1e-12)
		})
	}
}

func TestMinutes(t *testing.T) {
	for text, want := range map[string]time.Duration{"7m": 7 * time.Minute, "7": 7 * time.Minute, "7 min": 7 * time.Minute, "7minutes": 7 * time.Minute,
		"90s": 90 * time.Second, "1h30m": 90 * time.Minute, "7.5": 450 * time.Second} {
		var got time.Duration
		require.NoError(t, minutes{&got}.Set(text), text)
		require.Equal(t, want, got, text)
	}
	for _, text := range []string{"", "soon", "-7m", "7 parsecs", "99999h", "1e3"} {
		var got time.Duration
		require.Error(t, minutes{&got}.Set(text), text)
	}
	require.Equal(t, "7m", figure.Duration(7*time.Minute))
	require.Equal(t, "1h", figure.Duration(time.Hour))
	require.Equal(t, "1m30s", figure.Duration(90*time.Second))
}

func TestItemsWeighed(t *testing.T) {
	shown, err := itemsWeighed([]string{"RD=1.32", "BK 1:20=0.6g", "A = 0", "B=0.25kg"})
	require.NoError(t, err)
	require.Equal(t, batch.Poured{"RD": batch.Grams(1.32), "BK 1:20": batch.Grams(0.6), "A": {}, "B": batch.Grams(250)}, shown)
	for text, says := range map[string]string{"RD": "ITEM=GRAMS", "=1": "ITEM=GRAMS", " =1": "ITEM=GRAMS", "RD=": "is no number", "RD=1,32": "as in 1.32", "RD=-1": "out of range"} {
		_, err := itemsWeighed([]string{text})
		require.ErrorContains(t, err, says, text)
	}
	_, err = itemsWeighed([]string{"RD=1", "RD=2"})
	require.ErrorContains(t, err, "given twice")
}

// FuzzMeasure: whatever is typed, the answer is an error of one line or a
// number in the measure's range.
func FuzzMeasure(f *testing.F) {
	for _, text := range []string{"3", "3mm", "3,0", "1e999", "-0", "µm", "0x1p-2", "３"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		for _, m := range []measure{inMM, inGrams, perML, inPHR, aShare} {
			v, err := m.Parse(text)
			if err != nil {
				require.NotContains(t, err.Error(), "\n")
				continue
			}
			require.True(t, v >= m.Above && v <= m.UpTo, "%q gives %g", text, v)
		}
		mix := map[string]float64{}
		if shown, err := itemsWeighed([]string{text}); err == nil {
			require.Len(t, shown, 1)
		}
		if err := (loadings[float64]{inPHR, &mix}).Set(text); err == nil {
			for code, v := range mix {
				require.NotEmpty(t, code)
				require.True(t, v >= 0 && v <= 100, "%q gives %g", text, v)
			}
		}
	})
}

// TestHelpNamesKeys: every command that prints a result says in its help which
// keys its JSON has, and takes no argument without saying what it is.
func TestHelpNamesKeys(t *testing.T) {
	env, _, _ := testEnv(t)
	var walk func(*cobra.Command)
	walk = func(c *cobra.Command) {
		for _, sub := range c.Commands() {
			if sub.Name() == "help" || sub.Name() == "completion" {
				continue
			}
			if sub.HasSubCommands() {
				walk(sub)
				continue
			}
			require.Contains(t, sub.Long, "JSON keys", sub.CommandPath())
		}
	}
	walk(newRootCommand(env))
}

func TestFailedWriteIsTold(t *testing.T) {
	env, _, stderr := testEnv(t)
	env.Stdout = brokenPipe{}
	require.Equal(t, exitFailed, execute(context.Background(), env, []string{"resin", "list", "--json"}))
	require.Contains(t, stderr.String(), "pipe is broken")
	stderr.Reset()
	require.Equal(t, exitFailed, execute(context.Background(), env, []string{"resin", "list"}))
	require.Equal(t, "the result cannot be written (pipe is broken); make room or write it elsewhere; nothing of this command was stored\n", stderr.String())
}

type brokenPipe struct{}

func (brokenPipe) Write([]byte) (int, error) { return 0, errors.New("pipe is broken") }

func ExampleEnv_print() {
	env := &Env{Stdout: os.Stdout}
	env.print("%s", figure.Loadings(map[string]float64{"RD": 0.2, "WH": 1.02}))
	fmt.Println(commandText([]string{"match", "Harbour lamp / housing", "--grams", "250g"}))
	// Output:
	// WH 1.02, RD 0.2
	// match "Harbour lamp / housing" --grams 250g
}
