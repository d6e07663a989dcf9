package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"masstone/cmd/masstone/demo"
	"masstone/recipes/outfile"
	"masstone/recipes/workbench"
)

func newDemoCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "demo [FOLDER]",
		Short: "Show the whole job on an invented shop, step by step",
		Long: `Runs the whole job on an invented shop in a fresh folder (masstone-demo, or the
one named), explaining each step: the same commands a shop of your own needs. The
files stay there to play with. All data in it are invented.

JSON keys: folder, steps (a list of command, explanation, result; result has the
keys of the command).`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 1 {
				return misusef("masstone demo: %q is one argument too many; put names with spaces in quotes; use %s", args[1], cmd.UseLine())
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			folder := "masstone-demo"
			if len(args) > 0 {
				folder = args[0]
			}
			return runDemo(cmd.Context(), env, folder)
		},
	}
}

// A step is one command of the demo and why it is there.
type step struct {
	why  string
	args []string
}

const demoTarget = "Harbour lamp / housing"

// demoSteps is the job up to the first batch; see afterwards for the rest.
var demoSteps = []step{
	{"The bench is one file that keeps everything the shop knows.",
		[]string{"init", "--bench", demoBench}},
	{"The resin, as its data sheet states it. Pigments are stirred into side B; the pot life starts when side A goes in.",
		[]string{"resin", "add", "CLR", "--name", "clear casting urethane", "--mix", "100:90", "--density-a", "1.05", "--density-b", "1.00", "--pot-life", "7m", "--pigment-side", "B", "--max-phr", "4"}},
	{"The pigment pastes on the shelf, from a spreadsheet.",
		[]string{"pigment", "import", "pigments.csv"}},
	{"The chips: small castings of known loading, read with a spectrophotometer. They were cast in cups of 50 g on a 0.01 g scale, so a chip of 0.2 phr may really hold 5 % more or less; the fit counts that. Their thickness is exact, as it is in no real shop: without the last option 0.09 mm are counted.",
		[]string{"chip", "import", "chips.csv", "--resin", "CLR", "--chip-grams", "50", "--scale", "0.01", "--thickness-sd-mm", "0"}},
	{"From the chips, how every pigment absorbs and scatters light in this resin. Each chip is also predicted from all the others: that is how far the calibration can be trusted.",
		[]string{"fit", "CLR"}},
	{"What colour would a mixture have? With error bars.",
		[]string{"predict", "CLR", "--phr", "WH=1,CR=0.2", "--thickness", "3", "--over", "white"}},
	{"Sixteen mixtures that no chip shows were cast and read. How well are they predicted?",
		[]string{"predict", "CLR", "--file", "mixtures.csv"}},
	{"A client's part, read three times. (Without a file, type the readings: --lab 66.4,-10.4,-2.6 --lab ... --illuminant D65.)",
		[]string{"target", "add", demoTarget, "--client", "Tern Lighting", "--file", "lamp.csv", "--thickness", "3", "--tolerance", "1.0"}},
	{"Recipes for it. Of all sets of up to four pigments, those most likely to land, not those that only look best on paper.",
		[]string{"match", demoTarget, "--resin", "CLR", "--max-pigments", "4"}},
	{"The sheet to weigh from, for a batch of 250 g.",
		[]string{"batch", "R1", "--grams", "250"}},
	{"Or for twelve parts of 18.5 ml, with a tenth lost to cup and sprue, in cups of at most 150 g.",
		[]string{"batch", "R1", "--cavity-ml", "18.5", "--shots", "12", "--waste", "10%", "--max-cup", "150g", "--smallest=false"}},
	{"Or for thirty small parts that are injected: 2.40 g of water fill the mould. At 26 °C the pot life is shorter, so few shots come out of a cup; with two people one mixes while the other injects.",
		[]string{"batch", "R1", "--water-g", "2.40", "--sprue-ml", "0.8", "--shots", "30", "--resin-c", "26", "--no-vacuum", "--people", "2", "--smallest=false"}},
	{"A single part takes so little of a paste that it is let down first. What is stirred is kept as a jar, as it was really weighed.",
		[]string{"stock", "dilute", "OX", "--resin", "CLR", "--paste-g", "0.26", "--side-g", "5.02"}},
	{"The sheet takes the dose from the jar, and \"pour add\" will take it off.",
		[]string{"batch", "R1", "--grams", "14", "--smallest=false"}},
}

const demoBench = "shop.db"

// stepView is a step in JSON.
type stepView struct {
	Command     string          `json:"command"`
	Explanation string          `json:"explanation"`
	Result      json.RawMessage `json:"result"`
}

func runDemo(ctx context.Context, env *Env, folder string) error {
	if err := layOut(env.path(folder), folder); err != nil {
		return err
	}
	d := &demonstration{env: env, folder: folder}
	if !env.JSON {
		env.print("An invented shop in the folder %s. To repeat a step yourself: cd %s, then", tidy(folder), quoted(folder))
		env.print("export MASSTONE_BENCH=%s.", demoBench)
	}
	for _, s := range demoSteps {
		if err := d.do(ctx, s); err != nil {
			return err
		}
	}
	slip, err := d.slip(ctx)
	if err != nil {
		return err
	}
	if err := d.do(ctx, slip); err != nil {
		return err
	}
	if err := d.afterwards(ctx); err != nil {
		return err
	}
	if env.JSON {
		return env.emit(struct {
			Folder string     `json:"folder"`
			Steps  []stepView `json:"steps"`
		}{folder, d.steps})
	}
	env.print("")
	env.print("That is the job. Your own shop starts with: masstone init")
	return nil
}

// layOut writes the shop's files to a folder that must be new or empty.
func layOut(path, shown string) error {
	entries, err := os.ReadDir(path)
	switch {
	case err == nil && len(entries) > 0:
		return fmt.Errorf("%s: holds files already; name a new folder: masstone demo FOLDER", shown)
	case err != nil && !errors.Is(err, os.ErrNotExist):
		return fmt.Errorf("%s: cannot be used (%w); name a new folder: masstone demo FOLDER", shown, reason(err))
	}
	if err := os.MkdirAll(path, 0o755); err != nil {
		return fmt.Errorf("%s: cannot be made (%w); name another folder: masstone demo FOLDER", shown, reason(err))
	}
	return fs.WalkDir(demo.Shop(), ".", func(name string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		data, err := fs.ReadFile(demo.Shop(), name)
		if err != nil {
			return err
		}
		return outfile.File{Path: filepath.Join(path, name)}.Write(func(w io.Writer) error { _, err := w.Write(data); return err })
	})
}

// A demonstration runs commands as a person in its folder would.
type demonstration struct {
	env    *Env
	folder string
	steps  []stepView
}

// inside is the surroundings of a person in the folder.
func (d *demonstration) inside(out io.Writer, asJSON bool) *Env {
	e := *d.env
	e.Dir, e.Bench, e.JSON, e.Stdout = d.env.path(d.folder), "", asJSON, out
	e.Getenv = func(name string) string {
		if name == "MASSTONE_BENCH" {
			return demoBench
		}
		return d.env.Getenv(name)
	}
	return &e
}

// run runs a command line in the folder.
func (d *demonstration) run(ctx context.Context, args []string, out io.Writer, asJSON bool) error {
	e := d.inside(out, asJSON)
	root := newRootCommand(e)
	root.SetArgs(args)
	e.JSON = asJSON
	if err := root.ExecuteContext(ctx); err != nil {
		return fmt.Errorf("masstone %s: %w", commandText(args), err)
	}
	return nil
}

// do runs a step and explains it.
func (d *demonstration) do(ctx context.Context, s step) error {
	if d.env.JSON {
		var out bytes.Buffer
		if err := d.run(ctx, append([]string{"--json"}, s.args...), &out, true); err != nil {
			return err
		}
		d.steps = append(d.steps, stepView{"masstone " + commandText(s.args), s.why, out.Bytes()})
		return nil
	}
	d.steps = append(d.steps, stepView{})
	d.env.print("")
	d.env.print("%s", strings.Repeat("─", 78))
	for _, line := range wrapped(fmt.Sprintf("%d. %s", len(d.steps), s.why), 78) {
		d.env.print("%s", line)
	}
	d.env.print("")
	d.env.print("$ masstone %s", commandText(s.args))
	return d.run(ctx, s.args, d.env.Stdout, false)
}

// slip is a step in which the first pigment of the sheet was overshot.
func (d *demonstration) slip(ctx context.Context) (step, error) {
	var out bytes.Buffer
	args := []string{"batch", "R1", "--grams", "250"}
	if err := d.run(ctx, append([]string{"--json", "--smallest=false"}, args...), &out, true); err != nil {
		return step{}, err
	}
	var sheet workbench.Batch
	if err := json.Unmarshal(out.Bytes(), &sheet); err != nil {
		return step{}, err
	}
	line := sheet.Lines[1] // the first pigment
	poured := line.Grams.Plus(line.Grams).Plus(line.Grams).Grams() / 2
	return step{fmt.Sprintf("A slip: %s came out half as much again as planned. Nothing leaves the cup; how to go on?", line.Item),
		append(args, "--smallest=false", "--poured", fmt.Sprintf("%s=%.2f", line.Item, poured))}, nil
}

// commandText is a command line as a person types it.
func commandText(args []string) string {
	words := make([]string, len(args))
	for i, a := range args {
		words[i] = quoted(a)
	}
	return strings.Join(words, " ")
}

// quoted is a word as it is typed at a prompt.
func quoted(word string) string {
	if word != "" && strings.Trim(word, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_./:=,%") == "" {
		return word
	}
	if strings.ContainsAny(word, "\"$`\\!") { // what a shell would work out between double quotes
		return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
	}
	return `"` + word + `"`
}

// wrapped breaks a text into lines.
func wrapped(text string, width int) []string {
	var lines []string
	var line []byte
	for word := range strings.FieldsSeq(text) {
		if len(line) > 0 && len(line)+1+len(word) > width {
			lines = append(lines, string(line))
			line = line[:0]
		}
		if len(line) > 0 {
			line = append(line, ' ')
		}
		line = append(line, word...)
	}
	return append(lines, string(line))
}
