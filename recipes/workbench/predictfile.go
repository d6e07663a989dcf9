package workbench

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"masstone/calibrate"
	"masstone/color"
	"masstone/color/readings"
	"masstone/color/remedy"
	"masstone/recipes/figure"
)

// A PredictFileRequest asks for the colours of the mixtures of a file.
type PredictFileRequest struct {
	Resin        string // code
	Calibration  int    // version; 0 for the newest
	File         File
	Under        []color.Condition // the first is that of the rows; the main light if empty
	AsCalibrated bool              // for the lots that were calibrated, not those in use
	OneCasting   bool              // bars for one casting, not for the mean of many
	// ThicknessSDMM is how far thicknesses may miss, as in PredictRequest.
	ThicknessSDMM *float64
}

// A PredictFileResult is the colours that mixtures will have, beside their
// readings where the file has them.
type PredictFileResult struct {
	Resin       string                `json:"resin"`
	Calibration string                `json:"calibration"`
	Rows        []PredictedRow        `json:"rows"`
	OneCasting  bool                  `json:"one_casting" doc:"the bars are for one casting, whose portions of paste scatter in strength; else for the mean of many"`
	Summary     *Agreement            `json:"summary" doc:"null if the file has no reading"`
	ByLight     map[string]*Agreement `json:"by_light" as:"summary"`
	Lots        []LotStrength         `json:"lots" doc:"counted"`
	Notes       []string              `json:"notes"`

	Lights  []string `json:"-"` // of ByLight, the main one first
	Remarks Remarks  `json:"-"`
}

// A PredictedRow is a mixture of a file.
type PredictedRow struct {
	Mix      string                   `json:"mix"`
	Loadings map[string]figure.Number `json:"loadings_phr"`
	Under    string                   `json:"under"`
	Lab      figure.Lab               `json:"lab" doc:"predicted"`
	Half95   figure.Lab               `json:"half95"`
	Expected figure.Number            `json:"expected_dE00"`
	Upper95  figure.Number            `json:"upper95_dE00"`
	Measured *figure.Lab              `json:"measured,omitempty"`
	DE00     *figure.Number           `json:"dE00,omitempty"`
	Inside   *bool                    `json:"inside95,omitempty" doc:"the reading lies in the 95 % region"`
}

// An Agreement sums up how predictions compare with readings.
type Agreement struct {
	N            int           `json:"n"`
	Mean         figure.Number `json:"mean" doc:"of dE00, as the next three"`
	Median       figure.Number `json:"median"`
	P95          figure.Number `json:"p95"`
	Max          figure.Number `json:"max"`
	Coverage     figure.Number `json:"coverage95" doc:"share of all readings' L*, a* and b* that lie in their own interval, lab +- half95, the three channels of all rows pooled"`
	Region       figure.Number `json:"region95" doc:"share of readings in the 95 % region of the three together"`
	Upper95Share figure.Number `json:"upper95_share" doc:"share of dE00 at or below upper95_dE00"`
}

func agreementOf(all []calibrate.Judged) *Agreement {
	t := calibrate.TallyOf(all)
	if t.N == 0 {
		return nil
	}
	n := func(x float64) figure.Number { return figure.Number(x) }
	return &Agreement{t.N, n(t.Mean), n(t.Median), n(t.P95), n(t.Max), n(t.Coverage95), n(t.Region95), n(t.BelowUpper95Share)}
}

// PredictFile says what colours the mixtures of a file will have, for the lots
// in use, and holds them against the readings in it.
func PredictFile(ctx context.Context, b *Bench, r PredictFileRequest) (PredictFileResult, error) {
	var v PredictFileResult
	pigments, err := pigmentCodes(ctx, b.archive)
	if err != nil {
		return v, err
	}
	if err := r.File.Sight.look(ctx, b.archive); err != nil {
		return v, err
	}
	pieces, err := r.File.pieces(pigments, readings.Mixtures, &v.Remarks)
	if err != nil {
		return v, err
	}
	most := map[string]float64{} // phr of each pigment in any row
	for _, p := range pieces {
		for code, phr := range p.Loadings {
			most[code] = max(most[code], phr)
		}
	}
	k, err := know(ctx, b.archive, question{resin: r.Resin, version: r.Calibration, codes: codesIn(most), calibrated: r.AsCalibrated})
	if err != nil {
		return v, err
	}
	if err := k.checkMixtures(r.File.Name, pieces); err != nil {
		return v, err
	}
	backings, err := backingsOn(ctx, b.archive)
	if err != nil {
		return v, err
	}
	main := k.now.Main
	if len(r.Under) > 0 {
		main = r.Under[0]
	}
	var own []calibrate.Judged
	byLight := map[color.Condition][]calibrate.Judged{}
	for _, p := range pieces {
		if err := ctx.Err(); err != nil {
			return v, err
		}
		backing, known := backings[p.Backing]
		if !known {
			return v, &readings.RowError{File: r.File.Name, Row: p.Line, Name: p.Name, Problem: fmt.Sprintf("backing %q is not on the bench", p.Backing), Hint: "add it with " + remedy.Verb("backing add")}
		}
		row, judged, err := k.predictRow(p, backing, main, r)
		if err != nil {
			return v, &readings.RowError{File: r.File.Name, Row: p.Line, Name: p.Name, Problem: err.Error()}
		}
		v.Rows = append(v.Rows, row)
		for i, j := range judged {
			if i == 0 {
				own = append(own, j)
			}
			byLight[j.Measured.Under] = append(byLight[j.Measured.Under], j)
		}
	}
	v.Resin, v.Calibration, v.OneCasting = k.stored.Resin, k.stored.Name(), r.OneCasting
	v.Summary, v.ByLight = agreementOf(own), map[string]*Agreement{}
	v.Lots, v.Notes = k.lotStrengths(), append([]string{}, slices.Concat(k.notes, beyond(k.fitted, most))...)
	for _, c := range slices.SortedFunc(maps.Keys(byLight), func(a, b color.Condition) int { return mainFirst(main, a, b) }) {
		v.Lights, v.ByLight[c.String()] = append(v.Lights, c.String()), agreementOf(byLight[c])
	}
	return v, nil
}

// predictRow predicts a mixture and judges it by its readings. The row is under
// the main light, or under the first light it was read under where it was not
// read under the main one; its reading stands first among those judged.
func (k *knowledge) predictRow(p readings.Piece, backing color.Reflectance, main color.Condition, r PredictFileRequest) (PredictedRow, []calibrate.Judged, error) {
	measured, err := measuredOf(p, main)
	if err != nil {
		return PredictedRow{}, nil, err
	}
	slices.SortStableFunc(measured, func(a, b color.Lab) int {
		if a.Under != main && b.Under != main {
			return 0
		}
		return mainFirst(main, a.Under, b.Under)
	})
	lights := []color.Condition{main}
	for _, lab := range measured {
		if !slices.Contains(lights, lab.Under) {
			lights = append(lights, lab.Under)
		}
	}
	setting := calibrate.Setting{Thickness: calibrate.ThicknessMM(p.ThicknessMM), Backing: backing, Specular: p.Measurement.Specular, Aperture: apertureOf(p.Circumstances)}
	if r.OneCasting || r.ThicknessSDMM != nil {
		setting.ThicknessSD = thicknessSD(r.ThicknessSDMM, p.ThicknessMM)
	}
	predicted, err := k.now.Predict(calibrate.Sample{Loadings: phrs(p.Loadings), OneCasting: r.OneCasting, Setting: setting}, lights...)
	if err != nil {
		return PredictedRow{}, nil, err
	}
	var judged []calibrate.Judged
	for _, lab := range measured {
		j, err := predicted.Colors[slices.Index(lights, lab.Under)].Judge(lab)
		if err != nil {
			return PredictedRow{}, nil, err
		}
		judged = append(judged, j)
	}
	shown := predicted.Colors[0]
	if len(judged) > 0 {
		shown = judged[0].Predicted
	}
	row := PredictedRow{Mix: p.Name, Loadings: figure.Map(p.Loadings), Under: shown.Lab.Under.String(), Lab: figure.LabOf(shown.Lab), Half95: figure.Three(shown.Half95),
		Expected: figure.Number(shown.Expected), Upper95: figure.Number(shown.Upper95)}
	if len(judged) > 0 {
		read := figure.LabOf(judged[0].Measured)
		row.Measured, row.DE00, row.Inside = &read, figure.Of(judged[0].DE00), &judged[0].InRegion
	}
	return row, judged, nil
}

// mainFirst orders lights by name, the main one first.
func mainFirst(main, a, b color.Condition) int {
	switch {
	case a == b:
		return 0
	case a == main:
		return -1
	case b == main:
		return 1
	}
	return strings.Compare(a.String(), b.String())
}

// measuredOf lists what was read of a mixture: its Labs, or its spectrum under
// the main light.
func measuredOf(p readings.Piece, main color.Condition) ([]color.Lab, error) {
	if len(p.Labs) > 0 || p.Spectrum == nil {
		return slices.Clone(p.Labs), nil
	}
	lab, err := p.Spectrum.Lab(main)
	return []color.Lab{lab}, err
}

// checkMixtures reports every row with a pigment that the calibration does not
// know.
func (k *knowledge) checkMixtures(file string, pieces []readings.Piece) error {
	var bad []error
	for _, p := range pieces {
		for _, code := range slices.Sorted(maps.Keys(p.Loadings)) {
			if k.fitted.Index(code) == 0 && len(bad) < 20 {
				bad = append(bad, &readings.RowError{File: file, Row: p.Line, Name: p.Name, Column: code,
					Problem: "the pigment is not in calibration " + k.stored.Name(), Hint: "import chips that hold it and fit again, or leave the row out"})
			}
		}
	}
	return errors.Join(bad...)
}
