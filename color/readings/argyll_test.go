package readings_test

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/color"
	"masstone/color/readings"
)

// argyll finds a program of Debian's argyll (made with 2.3.1) or skips: the
// test is a second opinion, and needs no set-up where there is none.
func argyll(t *testing.T, program string) func(args ...string) string {
	t.Helper()
	path, err := exec.LookPath(program)
	if err != nil {
		t.Skipf("%s is not installed; apt-get install argyll", program)
	}
	return func(args ...string) string {
		t.Helper()
		out, err := exec.Command(path, args...).CombinedOutput()
		require.NoError(t, err, "%s %v\n%s", program, args, out)
		return string(out)
	}
}

func argyllVersion(t *testing.T) string {
	out, _ := exec.Command("spec2cie", "-?").CombinedOutput()
	version := regexp.MustCompile(`Version ([0-9.]+)`).FindSubmatch(out)
	require.NotNil(t, version, "spec2cie tells its version")
	return string(version[1])
}

// Our ISO 28178 file through argyll and back: txt2ti3 reads it, spectra to Lab
// are its spec2cie's, and we read what that wrote. Names and bands must be
// ours. Lab of bands that reach beyond the visible agree to the last digits;
// of bands that end at 400 nm they differ a little, since argyll carries the
// curve on below while ASTM E308 holds its last value.
func TestArgyllRoundTrip(t *testing.T) {
	for name, c := range map[string]struct {
		rows      []readings.Row
		tolerance float64
	}{
		"chart 380-730 nm": {chart(t), 0.002},
		"chips 400-700 nm": {realChips(t).Rows, 0.02},
	} {
		t.Run(name, func(t *testing.T) { argyllRoundTrip(t, c.rows, c.tolerance) })
	}
}

// chart reads testdata/ohta1997, whose columns need the help of Map.
func chart(t *testing.T) []readings.Row {
	o := readings.Options{File: "chart_10nm.csv", Map: map[string]string{"patch": "ignore", "colour": "name"}}
	for _, axis := range []string{"L", "a", "b"} {
		for _, under := range []string{"D50_2", "D65_10"} {
			o.Map[axis+"_"+under+"_s5"] = "ignore"
			o.Map[axis+"_"+under+"_w10"] = axis + "_" + under
		}
	}
	table, err := readings.Samples(openTest(t, "ohta1997/chart_10nm.csv"), o)
	require.NoError(t, err)
	require.Len(t, table.Rows, 16)
	return table.Rows
}

// The Lab of that file were computed from its spectra by ASTM E2022 weights, so
// none may look as if they disagreed, and its colours are those of real paint.
func TestChartIsSane(t *testing.T) {
	warnings, err := readings.Judge("chart", chart(t))
	require.NoError(t, err)
	require.Empty(t, warnings)
}

func argyllRoundTrip(t *testing.T, rows []readings.Row, tolerance float64) {
	txt2ti3, spec2cie := argyll(t, "txt2ti3"), argyll(t, "spec2cie")
	spectra := readings.Table{}
	for _, r := range rows {
		spectra.Rows = append(spectra.Rows, readings.Row{Name: r.Name, Spectrum: r.Spectrum})
	}
	dir := t.TempDir()
	var b bytes.Buffer
	_, err := readings.WriteText(&b, spectra, readings.ExchangeHeader{Originator: "masstone", Descriptor: "chips", Created: "2026-02-03"})
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "chips.txt"), b.Bytes(), 0o600))
	require.Contains(t, txt2ti3("-v", filepath.Join(dir, "chips.txt"), filepath.Join(dir, "chips")), "spectral values, from")

	// argyll writes the Lab of the light asked for beside the one it would
	// use itself, and only the former is wanted.
	for _, c := range []struct {
		light, observer, prefix string
		under                   color.Condition
	}{
		{"D65", "1964_10", "D65LAB_", color.D65Ten()},
		{"A", "1964_10", "ALAB_", color.Under(color.A, 10)},
		{"D65", "1931_2", "D65LAB_", color.Under(color.D65, 2)},
		{"C", "1931_2", "CLAB_", color.Under(color.C, 2)},
		{"D50", "1931_2", "LAB_", color.Under(color.D50, 2)},
	} {
		out := filepath.Join(dir, "out.ti3")
		spec2cie("-i", c.light, "-o", c.observer, filepath.Join(dir, "chips.ti3"), out)
		data, err := os.ReadFile(out)
		require.NoError(t, err)
		o := readings.Options{File: "out.ti3", Map: map[string]string{}, Condition: c.under, Observer: c.under.Observer}
		if c.prefix != "LAB_" {
			for _, axis := range []string{"L", "A", "B"} {
				o.Map["LAB_"+axis] = "ignore"
				o.Map[c.prefix+axis] = axis
			}
		}
		got, err := readings.Samples(bytes.NewReader(data), o)
		require.NoError(t, err, c.under)
		require.Contains(t, got.Notes[0], "as percent")
		require.Len(t, got.Rows, len(rows))
		worst := 0.0
		for i, row := range got.Rows {
			require.Equal(t, rows[i].Name, strings.Trim(row.Name, `"`))
			require.Equal(t, rows[i].Spectrum.FirstNM, row.Spectrum.FirstNM)
			for j, r := range row.Spectrum.R {
				require.InDelta(t, rows[i].Spectrum.R[j], r, 1e-12)
			}
			own, err := rows[i].Spectrum.Lab(c.under)
			if c.prefix == "LAB_" { // against the D50 of ICC profiles, four digits
				xyz, err := rows[i].Spectrum.XYZ(c.under)
				require.NoError(t, err)
				own, err = xyz.Against(color.XYZ{X: 96.42, Y: 100, Z: 82.49, Under: c.under})
				require.NoError(t, err)
			}
			require.NoError(t, err)
			for k := range 3 {
				worst = math.Max(worst, math.Abs(own.Values()[k]-row.Labs[0].Values()[k]))
			}
		}
		t.Logf("argyll %s, %s: %d spectra, largest difference in L*, a*, b*: %.5f", argyllVersion(t), c.under, len(rows), worst)
		require.LessOrEqual(t, worst, tolerance, "%s", c.under)
	}
}

// cxf2ti3 reads our ISO 17972 example; its first object must be ours.
func TestArgyllReadsTheSameXML(t *testing.T) {
	cxf2ti3 := argyll(t, "cxf2ti3")
	base := filepath.Join(t.TempDir(), "parts")
	cxf2ti3("../../testdata/iso17972/parts.cxf", base)
	data, err := os.ReadFile(base + ".cie")
	require.NoError(t, err)
	theirs, err := readings.Samples(bytes.NewReader(firstSet(data)), readings.Options{Condition: color.D65Ten()})
	require.NoError(t, err)
	ours, err := readings.Samples(openTest(t, "iso17972/parts.cxf"), readings.Options{})
	require.NoError(t, err)
	require.Equal(t, ours.Rows[0].Name, theirs.Rows[0].Name)
	require.Equal(t, ours.Rows[0].Labs, theirs.Rows[0].Labs)
	for i, r := range ours.Rows[0].Spectrum.R {
		require.InDelta(t, r, theirs.Rows[0].Spectrum.R[i], 1e-12)
	}
}

// firstSet keeps the first data set: cxf2ti3 2.3.1 expects every object to hold
// the same values, and shifts those of the others.
func firstSet(data []byte) []byte {
	head, sets, _ := bytes.Cut(data, []byte("BEGIN_DATA\n"))
	set, _, _ := bytes.Cut(sets, []byte("\n"))
	head = regexp.MustCompile(`NUMBER_OF_SETS \d+`).ReplaceAll(head, []byte("NUMBER_OF_SETS 1"))
	return bytes.Join([][]byte{head, []byte("BEGIN_DATA\n"), set, []byte("\nEND_DATA\n")}, nil)
}

// Reference files that come with argyll, written by others in the form of
// CGATS.17: those with Lab are read, and those with XYZ alone.
func TestArgyllReferenceFiles(t *testing.T) {
	files, _ := filepath.Glob("/usr/share/color/argyll/ref/*.cie")
	if len(files) == 0 {
		t.Skip("no reference files; apt-get install argyll")
	}
	read := 0
	for _, path := range files {
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		table, err := readings.Samples(bytes.NewReader(data), readings.Options{Condition: color.Under(color.D50, 2)})
		if err != nil && !bytes.Contains(data, []byte("LAB_L")) { // XYZ under another light than D50
			require.ErrorContains(t, err, "no surface passes", path)
			continue
		}
		require.NoError(t, err, path)
		sets := regexp.MustCompile(`NUMBER_OF_SETS\s+"?(\d+)`).FindSubmatch(data)
		require.NotNil(t, sets, path)
		require.Equal(t, string(sets[1]), fmt.Sprint(len(table.Rows)), path)
		read++
	}
	require.Positive(t, read)
}

// cxf2ti3 reads the ISO 17972 we write: names, bands and Lab are ours.
func TestArgyllReadsOurXML(t *testing.T) {
	cxf2ti3 := argyll(t, "cxf2ti3")
	table := realChips(t)
	for i := range table.Rows {
		r := &table.Rows[i]
		r.Labs = r.Labs[:1] // it knows one of each object
		r.Measurement = color.Measurement{Geometry: color.Sphere, Specular: color.SpecularIncluded}
		r.Circumstances = readings.Circumstances{Instrument: "bench 1", Serial: "A-77", Filter: "UV cut", Mode: "M1"}
	}
	base := filepath.Join(t.TempDir(), "chips")
	var b bytes.Buffer
	_, err := readings.WriteXML(&b, table, readings.ExchangeHeader{Originator: "masstone", Descriptor: "chips", Created: "2026-02-03"})
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(base+".cxf", b.Bytes(), 0o600))
	cxf2ti3(base+".cxf", base)
	data, err := os.ReadFile(base + ".cie")
	require.NoError(t, err)
	theirs, err := readings.Samples(bytes.NewReader(data), readings.Options{Condition: color.D65Ten()})
	require.NoError(t, err)
	require.Len(t, theirs.Rows, len(table.Rows))
	for i, r := range table.Rows {
		require.Equal(t, r.Name, theirs.Rows[i].Name)
		require.Equal(t, r.Labs, theirs.Rows[i].Labs)
		for k, v := range r.Spectrum.R {
			require.InDelta(t, v, theirs.Rows[i].Spectrum.R[k], 1e-6, "%s, %d nm", r.Name, 400+10*k)
		}
	}
}
