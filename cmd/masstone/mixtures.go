package main

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"

	"masstone/calibrate"
	"masstone/color"
	"masstone/color/readings"
	"masstone/recipes/archive"
)

// rowView is a predicted row of a file in JSON.
type rowView struct {
	Mix      string         `json:"mix"`
	Loadings map[string]fig `json:"loadings_phr"`
	Under    string         `json:"under"`
	Lab      labView        `json:"lab"`
	Half95   labView        `json:"half95"`
	Expected fig            `json:"expected_dE00"`
	Upper95  fig            `json:"upper95_dE00"`
	Measured *labView       `json:"measured,omitempty"`
	DE00     *fig           `json:"dE00,omitempty"`
	Inside   *bool          `json:"inside95,omitempty"`
}

// summaryView sums up how predictions compare with readings.
type summaryView struct {
	N            int `json:"n"`
	Mean         fig `json:"mean"`
	Median       fig `json:"median"`
	P95          fig `json:"p95"`
	Max          fig `json:"max"`
	Coverage     fig `json:"coverage95"`
	Region       fig `json:"region95"`
	Upper95Share fig `json:"upper95_share"`
}

func viewTally(t calibrate.Tally) *summaryView {
	if t.N == 0 {
		return nil
	}
	return &summaryView{t.N, fig(t.Mean), fig(t.Median), fig(t.P95), fig(t.Max), fig(t.Coverage95), fig(t.Region95), fig(t.BelowUpper95Share)}
}

func predictFile(ctx context.Context, env *Env, b *archive.Bench, o predictOptions, stored archive.Calibration, cal *calibrate.Calibration, under []color.Condition) error {
	pigments, err := pigmentCodes(ctx, b)
	if err != nil {
		return err
	}
	options, err := o.reading.options(o.file, pigments)
	if err != nil {
		return err
	}
	t, err := readTable(env, o.file, options, readings.Mixtures)
	if err != nil {
		return err
	}
	pieces, err := readings.Pieces(options.File, t.Rows)
	if err != nil {
		return err
	}
	if err := checkMixtures(options.File, pieces, cal, stored); err != nil {
		return err
	}
	most := map[string]float64{} // phr of each pigment in any row
	for _, p := range pieces {
		for code, phr := range p.Loadings {
			most[code] = max(most[code], phr)
		}
	}
	cal, counted, err := o.forLots(ctx, b, stored, cal, slices.Collect(maps.Keys(most)))
	if err != nil {
		return err
	}
	counted.Notes = append(counted.Notes, beyond(cal, most)...)
	backings, err := backingsOn(ctx, b)
	if err != nil {
		return err
	}
	main := cal.Main
	if len(under) > 0 {
		main = under[0]
	}
	rows := make([]rowView, len(pieces))
	colors := make([]color.Lab, len(pieces))
	var own []calibrate.Judged
	byLight := map[color.Condition][]calibrate.Judged{}
	for i, p := range pieces {
		if err := ctx.Err(); err != nil {
			return err
		}
		backing, known := backings[p.Backing]
		if !known {
			return &readings.RowError{File: options.File, Row: p.Line, Name: p.Name, Problem: fmt.Sprintf("backing %q is not on the bench", p.Backing), Hint: "add it with masstone backing add"}
		}
		measured, err := measuredOf(p, main)
		if err != nil {
			return err
		}
		lights := []color.Condition{main}
		for _, lab := range measured {
			if !slices.Contains(lights, lab.Under) {
				lights = append(lights, lab.Under)
			}
		}
		predicted, err := cal.Predict(calibrate.Sample{Loadings: phrs(p.Loadings), Setting: calibrate.Setting{
			Thickness: calibrate.ThicknessMM(p.ThicknessMM), Backing: backing, Specular: p.Measurement.Specular}}, lights...)
		if err != nil {
			return &readings.RowError{File: options.File, Row: p.Line, Name: p.Name, Problem: err.Error()}
		}
		shown := predicted.Colors[0]
		var mine *calibrate.Judged
		for _, lab := range measured {
			c := predicted.Colors[slices.Index(lights, lab.Under)]
			j, err := c.Judge(lab)
			if err != nil {
				return &readings.RowError{File: options.File, Row: p.Line, Name: p.Name, Problem: err.Error()}
			}
			byLight[lab.Under] = append(byLight[lab.Under], j)
			if mine == nil || lab.Under == main {
				mine, shown = &j, c
			}
		}
		rows[i] = rowView{Mix: p.Name, Loadings: figures(p.Loadings), Under: shown.Lab.Under.String(), Lab: viewLab(shown.Lab), Half95: view3(shown.Half95),
			Expected: fig(shown.Expected), Upper95: fig(shown.Upper95)}
		colors[i] = shown.Lab
		if mine != nil {
			m, de, inside := viewLab(mine.Measured), fig(mine.DE00), mine.InRegion
			rows[i].Measured, rows[i].DE00, rows[i].Inside = &m, &de, &inside
			own = append(own, *mine)
		}
	}
	summary := viewTally(calibrate.TallyOf(own))
	if env.JSON {
		lights := map[string]*summaryView{}
		for c, all := range byLight {
			lights[c.String()] = viewTally(calibrate.TallyOf(all))
		}
		return env.emit(struct {
			Resin       string                  `json:"resin"`
			Calibration string                  `json:"calibration"`
			Rows        []rowView               `json:"rows"`
			Summary     *summaryView            `json:"summary"`
			ByLight     map[string]*summaryView `json:"by_light"`
			lotsCounted
		}{stored.Resin, stored.Name(), rows, summary, lights, counted})
	}
	printRows(env, rows, colors, summary != nil)
	if summary == nil {
		env.print("%s predicted with %s", plural(len(rows), "mixture"), stored.Name())
		counted.print(env)
		return nil
	}
	env.print("")
	s := newTable("light", ">n", ">mean", ">median", ">p95", ">max", ">L*, a*, b* inside", ">all three", ">below 95 %")
	percent := func(v float64) string { return fmt.Sprintf("%.1f %%", 100*v) }
	for _, c := range slices.SortedFunc(maps.Keys(byLight), func(a, b color.Condition) int { return mainFirst(main, a, b) }) {
		v := calibrate.TallyOf(byLight[c])
		s.add(c.String(), fmt.Sprint(v.N), fmt.Sprintf("%.3f", v.Mean), fmt.Sprintf("%.3f", v.Median), fmt.Sprintf("%.3f", v.P95), fmt.Sprintf("%.3f", v.Max),
			percent(v.Coverage95), percent(v.Region95), percent(v.BelowUpper95Share))
	}
	env.print("CIEDE2000 between reading and prediction with %s", stored.Name())
	s.print(env.Stdout)
	counted.print(env)
	return nil
}

func mainFirst(main, a, b color.Condition) int {
	switch {
	case a == b:
		return 0
	case a == main:
		return -1
	case b == main || b.String() < a.String():
		return 1
	}
	return -1
}

// measuredOf lists what was read of a mixture: its Labs, or its spectrum under
// the main light.
func measuredOf(p readings.Piece, main color.Condition) ([]color.Lab, error) {
	if len(p.Labs) > 0 || p.Spectrum == nil {
		return p.Labs, nil
	}
	lab, err := p.Spectrum.Lab(main)
	return []color.Lab{lab}, err
}

// checkMixtures reports every row with a pigment that the calibration does not
// know.
func checkMixtures(file string, pieces []readings.Piece, cal *calibrate.Calibration, stored archive.Calibration) error {
	var bad []error
	for _, p := range pieces {
		for _, code := range slices.Sorted(maps.Keys(p.Loadings)) {
			if cal.Index(code) == 0 && len(bad) < 20 {
				bad = append(bad, &readings.RowError{File: file, Row: p.Line, Name: p.Name, Column: code,
					Problem: "the pigment is not in calibration " + stored.Name(), Hint: "import chips that hold it and fit again, or leave the row out"})
			}
		}
	}
	return errors.Join(bad...)
}

func printRows(env *Env, rows []rowView, colors []color.Lab, compared bool) {
	heads := []string{"mix", "predicted L* a* b*", ">doubt", ">95 %"}
	if compared {
		heads = append(heads, "read", ">dE00", "")
	}
	t := newTable(heads...)
	for i, r := range rows {
		cells := []string{r.Mix, labText(colors[i]), fmt.Sprintf("%.2f", r.Expected), fmt.Sprintf("%.2f", r.Upper95)}
		if compared {
			read, de, flag := "-", "-", ""
			if r.DE00 != nil {
				read, de = fmt.Sprintf("%.2f %.2f %.2f", r.Measured.L, r.Measured.A, r.Measured.B), fmt.Sprintf("%.2f", *r.DE00)
				if !*r.Inside {
					flag = "outside its 95 % bars"
				}
			}
			cells = append(cells, read, de, flag)
		}
		t.add(cells...)
		t.paint(env.swatch(colors[i]))
	}
	t.print(env.Stdout)
}
