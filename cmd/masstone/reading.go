package main

import (
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"masstone/color"
	"masstone/color/readings"
)

func newReadingCommand(env *Env) *cobra.Command {
	return newFamily("reading", "Readings: type them in, check a file, convert one", newReadingAddCommand(env), newReadingCheckCommand(env), newReadingConvertCommand(env))
}

// scatterView is the mean of readings under one light in JSON.
type scatterView struct {
	Under    string  `json:"under"`
	Lab      labView `json:"lab"`
	Readings int     `json:"readings"`
	MCDM     fig     `json:"mcdm"`
	Outlier  *int    `json:"outlier,omitempty"` // from 1
}

func viewScatter(p readings.Piece) []scatterView {
	views := make([]scatterView, len(p.Labs))
	for i, lab := range p.Labs {
		views[i] = scatterView{Under: lab.Under.String(), Lab: viewLab(lab), Readings: readingsUnder(p, lab.Under), MCDM: fig(p.Repeat[i].MCDM)}
		if n := p.Repeat[i].Outlier; n >= 0 {
			n++
			views[i].Outlier = &n
		}
	}
	return views
}

// readFile reads a file of any kind and tells what was understood of it.
func readFile(env *Env, file string, o readings.Options) (readings.File, error) {
	f, err := env.read(file)
	if err != nil {
		return readings.File{}, err
	}
	defer f.Close()
	got, err := readings.Read(f, o)
	switch {
	case err != nil && len(o.KnownPigments) == 0:
		return got, fmt.Errorf("%w\nno bench tells the pigments here; if columns are theirs, say --pigments CODE,CODE,...", err)
	case err != nil:
		return got, err
	}
	for _, w := range got.Table.Warnings {
		env.say("warning: %s", w.Error())
	}
	return got, nil
}

// kindText says what a file holds.
func kindText(k readings.Kind) string {
	return map[readings.Kind]string{readings.ChipsKind: "chips", readings.MixturesKind: "mixtures", readings.SamplesKind: "readings", readings.PigmentsKind: "a pigment list"}[k]
}

// asSaid are the options for a look at a file: what neither the file nor a flag
// says of how it was read stays open.
func asSaid(r *readingFlags, file string, pigments []string) (readings.Options, error) {
	o, err := r.options(file, pigments)
	if r.geometry == "" && r.specular == "" {
		o.Measurement = color.Measurement{}
	}
	return o, err
}

// notSaid stands for a way of reading that a file leaves open.
const notSaid = "not said"

// waysOf lists the ways pieces were read.
func waysOf(pieces []readings.Piece) []string {
	var ways []color.Measurement
	for _, p := range pieces {
		if read := len(p.Labs) > 0 || p.Spectrum != nil; read && !slices.Contains(ways, p.Measurement) {
			ways = append(ways, p.Measurement)
		}
	}
	texts := []string{}
	for _, m := range ways {
		if m == (color.Measurement{}) {
			texts = append(texts, notSaid)
		} else {
			texts = append(texts, m.String())
		}
	}
	return texts
}

// lightsUnder lists the lights pieces were read under.
func lightsUnder(pieces []readings.Piece) []string {
	lights := []string{}
	for _, p := range pieces {
		for _, lab := range p.Labs {
			if text := lab.Under.String(); !slices.Contains(lights, text) {
				lights = append(lights, text)
			}
		}
	}
	return lights
}

// widestScatter is the MCDM beyond which readings are hardly of one piece;
// handhelds repeat within 0.1 (common practice, no source).
const widestScatter = 1

// apart tells whether readings that should agree do not, though none of them
// stands out.
func apart(r color.Repeatability) bool { return r.Outlier < 0 && r.MCDM > widestScatter }

// timesRead counts the rows of a piece that hold a reading.
func timesRead(p readings.Piece) int {
	n := 0
	for _, r := range p.Readings {
		if len(r.Labs) > 0 || r.Spectrum != nil {
			n++
		}
	}
	return n
}
