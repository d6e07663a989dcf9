package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/require"
)

// senseless are what no option takes for a number: neither anything of the size
// of something in a workshop, nor written as people write numbers there.
var senseless = []string{"NaN", "Inf", "-Infinity", "1e-300", "1e300", "-1e300", "5e-324", "9223372036854775807", "99999999999999999999", "-9223372036854775809",
	"0x10", "1_000", "1.2.3", "ten", "", " ", "--1", "１２"}

// doubtful are numbers that some options take and others do not.
var doubtful = []string{"0", "-1", "1e9"}

// numberLines are command lines that do something with every command that takes
// numbers.
var numberLines = map[string]string{
	"approval link":   "Lamp",
	"approval show":   "Lamp",
	"backing add":     "grey --reflectance 0.5",
	"batch":           "R1 --grams 250 --smallest=false",
	"chip import":     "chips.csv --resin CLR --chip-grams 50 --scale 0.01 --replace",
	"correct":         "P1",
	"find":            "--lab 66,-10,-3 --illuminant D65",
	"fit":             "CLR --evidence lab --layer kubelka-munk",
	"instrument add":  "sphere --geometry d/8 --specular included",
	"labels chips":    "CLR --out labels.txt --overwrite",
	"labels jars":     "--out jars.txt --overwrite",
	"log":             "",
	"lot add":         "FG L2",
	"lot learn":       "FG L1 lot.csv --resin CLR --chip-grams 50 --scale 0.01",
	"match":           "Lamp --resin CLR --max-pigments 1",
	"mould add":       "M2",
	"mould weigh":     "--box-ml 400 --part-ml 18.5 --mix 100:10 --density 1.1",
	"pigment import":  "pigments.csv",
	"plan next":       "CLR --count 1",
	"plan show":       "PL1",
	"plan start":      "CLR",
	"pour add":        "B1 --as-sheet",
	"pour list":       "",
	"pour read":       "P1 --lab 66,-10,-3 --illuminant D65 --again",
	"pour withdraw":   "P1 --why x",
	"predict":         "CLR --phr WH=1",
	"reading add":     "target New --illuminant D65 --lab 66,-10,-3 --lab 66.1,-10.1,-3 --lab 66.1,-10,-3.1",
	"reading check":   "chips.csv",
	"reading convert": "chips.csv - --to csv",
	"recipe add":      "--resin CLR --phr WH=1",
	"recipe list":     "",
	"reorder":         "Lamp --grams 250",
	"resin add":       "NEW --mix 100:90 --pigment-side B",
	"run plan":        "RUN1 --mould M1",
	"run pour":        "RUN1 B1 --again",
	"run sheet":       "RUN1 --mould M1",
	"run start":       "Lamp --parts 30 --again",
	"scale add":       "bench --step 0.01g",
	"stock count":     "pail --grams 4kg",
	"stock dilute":    "FG --paste-g 0.31 --side-g 15.02 --again",
	"stock draw":      "pail --grams 120",
	"stock tint":      "pail --grams 1kg",
	"target add":      "New --lab 66,-10,-3 --illuminant D65",
}

// TestSenselessNumbers gives every option of every command that takes a number
// what is no number of a workshop: it is a wrong use told in one line, or for
// numbers that some options take done or refused in one line; nothing of what is
// refused is stored.
func TestSenselessNumbers(t *testing.T) {
	if racing {
		t.Skip("one command after the other, each slow")
	}
	env, stdout, stderr := testEnv(t)
	chips, err := os.ReadFile("demo/shop/chips.csv")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(env.path("chips.csv"), chips, 0o644))
	require.NoError(t, os.WriteFile(env.path("lot.csv"), []byte("chip,backing,thickness_mm,WH,FG,L_D65,a_D65,b_D65\nlot,white,3,1,0.2,72,-25,5\n"), 0o644))
	require.NoError(t, os.WriteFile(env.path("pigments.csv"), []byte("code,name\nZZ,Zed\n"), 0o644))
	for _, line := range []string{
		"fit CLR --evidence lab --layer kubelka-munk",
		"target add Lamp --client Tern --lab 66.4,-10.4,-2.6 --illuminant D65 --thickness 3",
		"recipe add --resin CLR --phr WH=2.8,FG=0.5,UM=0.4 --target Lamp",
		"batch R1 --grams 250 --smallest=false",
		"pour add B1 --as-sheet",
		"pour read P1 --lab 66,-10,-3 --illuminant D65",
		"approve R1 --pour P1",
		"lot add FG L1 --open",
		"stock tint pail --recipe R1 --grams 5kg",
		"run start Lamp --parts 30",
		"mould add M1",
		"plan start CLR",
	} {
		require.Equal(t, exitDone, execute(context.Background(), env, strings.Fields(line)), "%s: %s", line, stderr)
	}
	ready, err := os.ReadFile(env.path("bench.db"))
	require.NoError(t, err)
	restore := func() { require.NoError(t, os.WriteFile(env.path("bench.db"), ready, 0o600)) }
	sample, option := 3, 0 // each number is given to every third option; with the tag study to every one
	if everything {
		sample = 1
	}
	for path, line := range numberLines {
		require.Equal(t, exitDone, execute(context.Background(), env, strings.Fields(path+" "+line)), "%s: %s", path, stderr)
		restore()
	}
	runs := 0
	try := func(t *testing.T, c *cobra.Command, f *pflag.Flag, value string, wrong bool) {
		runs++
		stdout.Reset()
		stderr.Reset()
		path := strings.TrimPrefix(c.CommandPath(), "masstone ")
		line, known := numberLines[path]
		require.True(t, known, "a line of %s is missing", path)
		args := append(append(strings.Fields(path), words(line, f.Name)...), "--"+f.Name+"="+value)
		code := execute(context.Background(), env, args)
		said := fmt.Sprintf("masstone %q: exit %d: %s", args, code, stderr)
		require.NotContains(t, said, "internal fault")
		require.NotContains(t, said, "strconv")
		now, err := os.ReadFile(env.path("bench.db"))
		require.NoError(t, err)
		if code == exitDone {
			require.False(t, wrong, "%s", said)
			restore()
			return
		}
		require.True(t, bytes.Equal(ready, now), "%s stored something", said)
		require.Equal(t, 1, strings.Count(stderr.String(), "\n"), said)
		require.Empty(t, stdout.String(), said)
		if wrong {
			require.Equal(t, exitMisuse, code, said)
		}
	}
	var walk func(*cobra.Command)
	walk = func(c *cobra.Command) {
		for _, sub := range c.Commands() {
			walk(sub)
		}
		c.LocalNonPersistentFlags().VisitAll(func(f *pflag.Flag) {
			form := numberForm(f)
			if form == "" || c.HasSubCommands() {
				return
			}
			t.Run(strings.TrimPrefix(c.CommandPath(), "masstone ")+" "+f.Name, func(t *testing.T) {
				option++
				for i, text := range senseless {
					if (i+option)%sample == 0 {
						try(t, c, f, fmt.Sprintf(form, text), true)
					}
				}
				for _, text := range doubtful {
					try(t, c, f, fmt.Sprintf(form, text), false)
				}
			})
		})
	}
	walk(newRootCommand(env))
	t.Logf("%d command lines", runs)
}

// words are those of a command line without a flag of that name.
func words(line, flag string) []string {
	all := strings.Fields(line)
	for {
		i := slices.Index(all, "--"+flag)
		if i < 0 {
			return all
		}
		all = slices.Delete(all, i, i+2)
	}
}

// numberForm is how a flag's value is written around a number, "" for a flag that
// takes none.
func numberForm(f *pflag.Flag) string {
	switch f.Name {
	case "lab":
		return "%s,-10,-3"
	case "waste":
		return "%s%%"
	}
	switch kind := f.Value.Type(); kind {
	case "bool", "string", "stringSlice", "stringArray", "DAY", "CODE=LOT", "light", "light/observer", "degrees", "d/8|45/0", "included|excluded",
		"a4|letter", "kind", "model", "name", "A|B", "platinum|tin":
		return ""
	case "A:B":
		return "%s:90"
	case "CODE=PHR", "CODE=G", "ITEM=GRAMS":
		return "WH=%s"
	case "AXIS=MOST":
		return "L=%s"
	default:
		return "%s"
	}
}

// TestWholeNumbers: digits are decimal, as in strconv.ParseInt of base 10.
func TestWholeNumbers(t *testing.T) {
	for text, want := range map[string]int{"0": 0, "7": 7, "-1": -1, "012": 12, "08": 8, " 9 ": 9, "1000000000": 1e9} {
		var got int
		require.NoError(t, whole{&got}.Set(text), text)
		require.Equal(t, want, got, text)
	}
	for text, says := range map[string]string{"": "digits alone", "0x10": "digits alone", "0b1": "digits alone", "1_000": "digits alone", "1.5": "digits alone",
		"1e3": "digits alone", "1,000": "digits alone", "NaN": "digits alone", "1000000001": "out of range", "99999999999999999999": "out of range"} {
		got := 5
		require.ErrorContains(t, whole{&got}.Set(text), says, text)
		require.Equal(t, 5, got, text)
	}
	var all []int
	require.NoError(t, wholes{&all}.Set("2,08"))
	require.NoError(t, wholes{&all}.Set("3"))
	require.Equal(t, []int{2, 8, 3}, all)
	require.Error(t, wholes{&all}.Set("2,,3"))
}
