package charts

import (
	"bytes"
	"encoding/xml"
	"errors"
	"image/png"
	"io"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"masstone/calibrate"
	"masstone/calibrate/gamut"
	"masstone/color"
)

// drawAll writes every chart, and those named as PNG too: these take their time.
func drawAll(t testing.TB, f fitted, o Options, png ...string) map[string][]byte {
	all, err := All(f.cal, o)
	require.NoError(t, err)
	out := map[string][]byte{}
	for _, c := range all {
		for _, format := range c.Formats {
			if format == PNG && !slices.Contains(png, c.Name) {
				continue
			}
			var b bytes.Buffer
			require.NoError(t, c.Draw(&b, format))
			name := c.Name + "." + format
			assert.NotContains(t, out, name)
			out[name] = b.Bytes()
		}
	}
	return out
}

// wellFormed reads XML to its end and answers all its text.
func wellFormed(t assert.TestingT, svg []byte) string {
	d := xml.NewDecoder(bytes.NewReader(svg))
	d.Strict = true
	var text strings.Builder
	for {
		token, err := d.Token()
		if err == io.EOF {
			return text.String()
		}
		if !assert.NoError(t, err) {
			return ""
		}
		if c, ok := token.(xml.CharData); ok {
			text.Write(c)
			text.WriteByte('\n')
		}
	}
}

var embedded = regexp.MustCompile(`base64,[^"]*`)

// noNumber tells whether a coordinate is not finite.
func noNumber(svg []byte) bool {
	svg = embedded.ReplaceAll(svg, nil)
	return bytes.Contains(svg, []byte("NaN")) || bytes.Contains(svg, []byte("Inf"))
}

func TestAllCharts(t *testing.T) {
	for _, pigments := range []int{1, 2, 3, 6} {
		f := shop(t, pigments)
		var pictures []string
		if pigments == 2 {
			pictures = []string{"curves", "curves-BK", "chips", "left-out", "gamut"}
		}
		got := drawAll(t, f, Options{Title: "CLR 3", Chips: f.chips}, pictures...)
		names := []string{"curves", "curves-resin", "chips", "left-out", "gamut"}
		for _, code := range f.cal.Codes() {
			names = append(names, "curves-"+code)
		}
		assert.Equal(t, len(names)+len(pictures)+2, len(got), "the two tables besides")
		for _, name := range names {
			svg := got[name+".svg"]
			require.NotEmpty(t, svg, name)
			text := wellFormed(t, svg)
			assert.Contains(t, text, "CLR 3: ", name)
			assert.False(t, noNumber(svg), "%s holds what is no number", name)
		}
		for _, name := range pictures {
			img, err := png.Decode(bytes.NewReader(got[name+".png"]))
			require.NoError(t, err, name)
			assert.Greater(t, img.Bounds().Dx(), 500, name)
		}
		for i := range f.cal.Chips {
			assert.Contains(t, wellFormed(t, got["chips.svg"]), f.cal.Chips[i].Chip+"\n")
		}
	}
}

func TestSameBytes(t *testing.T) {
	f := shop(t, 3)
	o := Options{Title: "again", Chips: f.chips}
	first, second := drawAll(t, f, o, "chips", "gamut"), drawAll(t, f, o, "chips", "gamut")
	require.Equal(t, len(first), len(second))
	for name := range first {
		assert.True(t, bytes.Equal(first[name], second[name]), "%s differs from call to call", name)
	}
}

// Names are of a person: anything may be in them.
func TestNames(t *testing.T) {
	codes := []string{`../W<H>&"'`, "wh", "WH"}
	chips := []string{`<script>&"'</script>`, "two\nlines\x00\x1b[1m", "\xff\xfe bad", strings.Repeat("long ", 60), "", "=1+1"}
	f := renamed(shop(t, 3), codes, chips)
	all, err := All(f.cal, Options{Title: `a<b & "c" ` + "\x01", Chips: f.chips})
	require.NoError(t, err)
	seen := map[string]bool{}
	for _, c := range all {
		assert.Regexp(t, regexp.MustCompile(`^[\pL\p{Nd}_-]{1,70}$`), c.Name)
		for _, format := range c.Formats {
			name := strings.ToLower(c.Name) + "." + format
			assert.False(t, seen[name], "%s twice", name)
			seen[name] = true
			if format == PNG {
				continue
			}
			var b bytes.Buffer
			require.NoError(t, c.Draw(&b, format))
			if format == SVG {
				text := wellFormed(t, b.Bytes())
				assert.Contains(t, text, `a<b & "c"`)
				assert.NotContains(t, b.String(), "<script>")
				if c.Name == "chips" {
					assert.Contains(t, text, chips[0])
					assert.Contains(t, text, "\n=1+1\n")
				}
			}
		}
	}
	assert.True(t, seen["curves-___w_h____.svg"], "%v", seen)
	assert.True(t, seen["curves-wh.svg"] && seen["curves-wh-2.svg"])
}

// Whatever the title, the SVG is well formed.
func TestAnyTitle(t *testing.T) {
	f := shop(t, 1)
	curves, err := drawnCurves(f.cal, f.shop.Setting)
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		title := string(rapid.SliceOfN(rapid.Byte(), 0, 40).Draw(t, "title"))
		if rapid.Bool().Draw(t, "runes") {
			title = rapid.String().Draw(t, "title")
		}
		p := curveSheet(Options{Title: title, Setting: f.shop.Setting}, &curves[1])
		var b bytes.Buffer
		assert.NoError(t, p.write(&b, SVG))
		wellFormed(t, b.Bytes())
		if t.Failed() {
			t.FailNow()
		}
	})
}

// cut and wrap keep to the width.
func TestTextFits(t *testing.T) {
	s := plain(8, ink)
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.String().Draw(t, "words")
		width := s.Width("…") + s.Width("m")*5
		assert.LessOrEqual(t, s.Width(cut(words, s, width)), width)
		for _, line := range wrap(words, s, width) {
			assert.LessOrEqual(t, s.Width(line), width)
		}
		if t.Failed() {
			t.FailNow()
		}
	})
	assert.Equal(t, []string{"one two", "three"}, wrap("one  two\tthree", s, s.Width("one two t")))
}

// Readings that are no numbers spoil their own place only.
func TestNoNumbers(t *testing.T) {
	f := renamed(shop(t, 3), nil, nil)
	nan, inf := math.NaN(), math.Inf(1)
	r := &f.cal.Chips[0]
	r.DE00, r.LeftDE00, r.Sigma = nan, inf, inf
	r.LeftOut = color.Lab{L: nan, A: nan, B: inf, Under: r.LeftOut.Under}
	f.cal.Chips[1].Measured.A, f.cal.Chips[1].Fitted.L = inf, nan
	f.cal.Curves[1].KSD[0], f.cal.Curves[1].KSD[1], f.cal.Curves[1].SSD[2] = nan, inf, 1e300
	f.cal.Curves[2].K = [color.Bands]float64{}
	for name, b := range drawAll(t, f, Options{Setting: f.shop.Setting}, "curves-WH", "chips", "left-out") {
		if strings.HasSuffix(name, SVG) {
			wellFormed(t, b)
			assert.False(t, noNumber(b), "%s holds what is no number", name)
		}
	}
}

func TestBand(t *testing.T) {
	var v, sd [color.Bands]float64
	v[3], sd[3] = 2, 0.1
	b := band(&v, &sd, 1.5)
	// 2 exp(1.96 0.15) = 2.6835, by hand
	assert.InDelta(t, 2.6835, b.hi[3], 1e-4)
	assert.InDelta(t, 4/2.6835, b.lo[3], 1e-4)
	assert.Equal(t, 2.0, b.mid[3])
	for i := range b.lo {
		assert.True(t, b.lo[i] <= b.mid[i] && b.mid[i] <= b.hi[i])
	}
}

func TestUsualSetting(t *testing.T) {
	chip := func(x calibrate.ThicknessMM, backing float64) calibrate.Chip {
		return calibrate.Chip{Thickness: x, Backing: color.Constant(backing), Measurement: color.Measurement{Specular: color.SpecularExcluded}}
	}
	got := usual([]calibrate.Chip{chip(2, 0.1), chip(4, 0.8), chip(4, 0.8), chip(3, 0.8)})
	assert.Equal(t, calibrate.Setting{Thickness: 4, Backing: color.Constant(0.8), Specular: color.SpecularExcluded}, got)
	assert.Equal(t, calibrate.ThicknessMM(3), usual(nil).Thickness)
	assert.NoError(t, usual(nil).Check())
}

func TestAllErrors(t *testing.T) {
	f := shop(t, 2)
	swapped := slices.Clone(f.chips)
	swapped[0], swapped[1] = swapped[1], swapped[0]
	for says, o := range map[string]Options{
		"chips for a calibration of": {Chips: f.chips[1:]},
		"in the order of the fit":    {Chips: swapped},
		"thickness":                  {Setting: calibrate.Setting{Thickness: -1}},
		"lightness 200":              {Levels: []float64{200}},
		"-3 phr":                     {Limits: gamut.Limits{TotalPHR: -3}},
	} {
		_, err := All(f.cal, o)
		assert.ErrorContains(t, err, says)
	}
	all, err := All(f.cal, Options{})
	require.NoError(t, err)
	for _, c := range all {
		assert.ErrorContains(t, c.Draw(io.Discard, "pdf"), `no format "pdf"`)
		for _, format := range c.Formats {
			if format == PNG && c.Name != "gamut" {
				continue
			}
			assert.ErrorIs(t, c.Draw(broken{}, format), errFull, "%s %s", c.Name, format)
		}
	}
}

var errFull = errors.New("disk full")

type broken struct{}

func (broken) Write([]byte) (int, error) { return 0, errFull }

func TestTicks(t *testing.T) {
	labels := func(lo, hi float64) (out []string) {
		for _, t := range decades(lo, hi) {
			if t.Label != "" {
				out = append(out, t.Label)
			}
		}
		return out
	}
	assert.Equal(t, []string{"0.001", "0.01", "0.1", "1"}, labels(0.001, 5))
	assert.Equal(t, []string{"0.05", "0.1", "0.2", "0.5", "1"}, labels(0.05, 1))
	var got []string
	for _, tick := range steps(-25, 25, 10, 0) {
		got = append(got, tick.Label)
	}
	assert.Equal(t, []string{"−20", "−10", "0", "10", "20"}, got)
	for _, c := range []struct {
		span     float64
		most     int
		step     float64
		decimals int
	}{{0.6, 7, 0.1, 1}, {10, 7, 2, 0}, {3.4, 7, 0.5, 1}, {0.5, 7, 0.1, 1}, {200, 10, 20, 0}} {
		step, decimals := roundStep(c.span, c.most)
		assert.InDelta(t, c.step, step, 1e-12, "%v", c)
		assert.Equal(t, c.decimals, decimals, "%v", c)
	}
}

// The axis of the chips shows them all, but for one far out.
func TestScaleOf(t *testing.T) {
	rows := func(left ...float64) (out []calibrate.ChipReport) {
		for _, v := range left {
			out = append(out, calibrate.ChipReport{LeftDE00: v})
		}
		return out
	}
	for _, c := range []struct {
		rows []calibrate.ChipReport
		want float64
	}{
		{rows(), 0.5},
		{rows(0.1, 0.2), 0.5},
		{rows(0.1, 0.3, 1.1, 2.9), 3},
		{rows(0.1, 0.3, 0.5, 30), 0.5},
		{rows(math.NaN(), math.Inf(1), 0.7), 0.7},
	} {
		assert.InDelta(t, c.want, scaleOf(c.rows), 1e-9, "%v", c.rows)
	}
}

func BenchmarkDraw(b *testing.B) {
	f := shop(b, 12)
	all, err := All(f.cal, Options{Chips: f.chips})
	require.NoError(b, err)
	for _, format := range []string{SVG, PNG, CSV} {
		b.Run(format, func(b *testing.B) {
			for b.Loop() {
				for _, c := range all {
					if slices.Contains(c.Formats, format) {
						if err := c.Draw(io.Discard, format); err != nil {
							b.Fatal(err)
						}
					}
				}
			}
		})
	}
}
