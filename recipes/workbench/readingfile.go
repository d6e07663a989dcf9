package workbench

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"masstone/color"
	"masstone/color/readings"
	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// A CheckFileRequest asks what a file of readings holds.
type CheckFileRequest struct {
	File     File
	Pigments []string // codes whose columns are loadings, beside those of the bench
}

// A CheckedFile is what a file holds as it would be taken in.
type CheckedFile struct {
	File     string        `json:"file"`
	Kind     readings.Kind `json:"kind" doc:"chips, mixtures, readings, pigments"`
	Notes    []string      `json:"notes" doc:"what was understood"`
	Warnings []string      `json:"warnings"`
	Lights   []string      `json:"lights"`
	Ways     []string      `json:"measurements"`
	Assumed  []string      `json:"assumed" doc:"what neither the file nor the request says of the way of reading"`
	Pigments []string      `json:"pigments" doc:"codes"`
	Pieces   []FilePiece   `json:"pieces"`
	Cards    []Pigment     `json:"cards,omitempty" doc:"of a pigment list" as:"pigment list"`

	Remarks Remarks `json:"-"`
}

// A FilePiece is a piece in a file, with the means of its readings.
type FilePiece struct {
	Name        string                   `json:"name"`
	Row         int                      `json:"row"`
	Loadings    map[string]figure.Number `json:"loadings_phr,omitempty"`
	Over        string                   `json:"over,omitempty"`
	ThicknessMM *figure.Number           `json:"thickness_mm,omitempty"`
	Geometry    color.Geometry           `json:"geometry,omitempty"`
	Specular    color.Specular           `json:"specular,omitempty"`
	Colors      []MeanReading            `json:"colors"`
	Spectrum    *archive.Spectrum        `json:"spectrum,omitempty"`
	OfSpectra   *PartColor               `json:"of_spectra,omitempty" doc:"what the spectra come to under D65/10"`
	Taken       *archive.Taken           `json:"taken,omitempty" doc:"as the file says of the first reading"`
	Readings    int                      `json:"readings"`
	Note        string                   `json:"note,omitempty"`
}

func filePiece(p readings.Piece) FilePiece {
	v := FilePiece{Name: p.Name, Row: p.Line, Loadings: figure.Map(p.Loadings), Over: p.Backing, ThicknessMM: figure.Known(p.ThicknessMM),
		Geometry: p.Measurement.Geometry, Specular: p.Measurement.Specular, Colors: meanReadings(p), Readings: timesRead(p), Note: p.Note, OfSpectra: ofSpectra(p), Taken: takenOf(p.Circumstances)}
	if p.Spectrum != nil {
		s := archive.SpectrumOf(*p.Spectrum)
		v.Spectrum = &s
	}
	return v
}

// CheckFile tells what a file of readings holds and what is doubtful about it,
// and stores nothing. It needs no bench file.
func CheckFile(ctx context.Context, b *Bench, r CheckFileRequest) (CheckedFile, error) {
	v := CheckedFile{File: r.File.Name, Lights: []string{}, Ways: []string{}, Assumed: []string{}, Pieces: []FilePiece{}}
	got, err := r.File.look(ctx, b, r.Pigments)
	if err != nil {
		return v, err
	}
	pieces, err := readings.Pieces(r.File.Name, got.Table.Rows)
	if err != nil {
		return v, err
	}
	v.Kind, v.Notes, v.Pigments = got.Kind, append([]string{}, got.Table.Notes...), append([]string{}, got.Table.Pigments...)
	warnings := got.Table.Warnings
	var ways []color.Measurement
	for _, p := range pieces {
		warnings = append(warnings, p.Warnings...)
		if read := len(p.Labs) > 0 || p.Spectrum != nil; read && !slices.Contains(ways, p.Measurement) {
			ways = append(ways, p.Measurement)
			v.Ways = append(v.Ways, wayText(p.Measurement))
			if text := assumed(p.Measurement); text != "" {
				v.Assumed = append(v.Assumed, text)
			}
		}
		for _, lab := range p.Labs {
			if light := lab.Under.String(); !slices.Contains(v.Lights, light) {
				v.Lights = append(v.Lights, light)
			}
		}
		v.Pieces = append(v.Pieces, filePiece(p))
	}
	v.Warnings = make([]string, len(warnings))
	for i, w := range warnings {
		v.Warnings[i] = w.Error()
		v.Remarks.warn("%s", w.Error())
	}
	for _, p := range got.Pigments {
		v.Cards = append(v.Cards, pigmentOf(pigmentCard(p)))
	}
	return v, nil
}

// NotSaid stands for a way of reading that a file leaves open.
const NotSaid = "not said"

// wayText is the way a piece is taken to be read, where anything is said of it.
func wayText(m color.Measurement) string {
	if m == (color.Measurement{}) {
		return NotSaid
	}
	return usualWay(m).String()
}

// assumed is what is taken of a way of reading because nobody says it, empty
// where all is said.
func assumed(m color.Measurement) string {
	usual := usualWay(m)
	switch {
	case m == (color.Measurement{}):
		return "the way of reading is not said: taken as " + usual.String()
	case m.Geometry == "":
		return "the geometry is not said: taken as " + string(usual.Geometry)
	case m.Specular == "":
		return "the specular mode is not said: taken as " + string(usual.Specular)
	}
	return ""
}

// look reads a file of any kind as far as it and the request say how: a way of
// reading that neither says stays open.
func (f File) look(ctx context.Context, b *Bench, pigments []string) (readings.File, error) {
	codes := slices.Clone(pigments)
	if b.archive != nil {
		shelf, err := pigmentCodes(ctx, b.archive)
		if err != nil {
			return readings.File{}, err
		}
		for _, c := range shelf {
			if !slices.Contains(codes, c) {
				codes = append(codes, c)
			}
		}
	}
	o, err := f.options(codes)
	if err != nil {
		return readings.File{}, err
	}
	return readings.Read(f.Data, o)
}

// The formats that readings are written in.
const (
	CSVFormat  = "csv"
	TextFormat = "text" // ISO 28178
	CxFFormat  = "cxf"  // ISO 17972-1
)

// A ConvertFileRequest asks for the readings of a file in another format.
type ConvertFileRequest struct {
	File       File
	Pigments   []string // codes whose columns are loadings, beside those of the bench
	To         string   // format; as the ending of Out says if empty
	Out        string   // name of the file that is written
	Descriptor string   // what the readings are of, for ISO 28178; kind and file if empty
}

// A ConvertedFile is a file of readings in another format.
type ConvertedFile struct {
	In     string        `json:"in"`
	Out    string        `json:"out"`
	Format string        `json:"format" doc:"csv, text or cxf"`
	Kind   readings.Kind `json:"kind" doc:"chips, mixtures, readings"`
	Rows   int           `json:"rows"`

	Data    []byte  `json:"-"` // of the file
	Remarks Remarks `json:"-"`
}

// ConvertFile writes the readings of a file in another format, which reads back
// as the same numbers. It needs no bench file.
func ConvertFile(ctx context.Context, b *Bench, r ConvertFileRequest) (ConvertedFile, error) {
	v := ConvertedFile{In: r.File.Name, Out: r.Out}
	var err error
	if v.Format, err = r.format(); err != nil {
		return v, err
	}
	r.File.Options.Repeats = true
	got, err := r.File.look(ctx, b, r.Pigments)
	if err != nil {
		return v, err
	}
	for _, w := range got.Table.Warnings {
		v.Remarks.warn("%s", w.Error())
	}
	if got.Kind == readings.PigmentsKind {
		return v, fmt.Errorf("%s: is a pigment list; only readings are converted", v.In)
	}
	for _, n := range got.Table.Notes {
		v.Remarks.say("%s: %s", v.In, n)
	}
	v.Kind, v.Rows = got.Kind, len(got.Table.Rows)
	var data bytes.Buffer
	head := readings.ExchangeHeader{Originator: b.program, Descriptor: cmp.Or(r.Descriptor, string(got.Kind)+" of "+v.In), Created: b.now().Format(time.DateOnly)}
	var without []string
	switch v.Format {
	case CSVFormat:
		err = readings.WriteCSV(&data, got.Table)
	case TextFormat:
		without, err = readings.WriteText(&data, got.Table, head)
		if v.Rows -= len(without); len(without) > 0 {
			v.Remarks.warn("%s: left out, as ISO 28178 cannot say that a reading was not taken: %s; write CSV to keep them", v.Out, figure.List(without))
		}
	case CxFFormat:
		without, err = readings.WriteXML(&data, got.Table, head)
		if len(without) > 0 {
			v.Remarks.warn("%s: ISO 17972-1 has no place for %s; write CSV to keep them", v.Out, figure.List(without))
		}
	}
	if err != nil {
		return v, fmt.Errorf("%s: %w", v.In, err)
	}
	v.Data = data.Bytes()
	return v, nil
}

// format is what is written.
func (r ConvertFileRequest) format() (string, error) {
	ending := strings.ToLower(filepath.Ext(r.Out))
	switch {
	case slices.Contains([]string{CSVFormat, TextFormat, CxFFormat}, r.To):
		return r.To, nil
	case r.To != "":
		return "", invalid("to", "%s: is no format this writes; give csv, text or cxf", remedy.InputAs("to", r.To))
	case ending == ".csv":
		return CSVFormat, nil
	case ending == ".txt":
		return TextFormat, nil
	case ending == ".cxf":
		return CxFFormat, nil
	}
	return "", invalid("to", "%s: which format? end the name in .csv, .txt or .cxf, or say %s, %s or %s", r.Out, remedy.InputAs("to", CSVFormat), remedy.InputAs("to", TextFormat), remedy.InputAs("to", CxFFormat))
}
