package readings_test

import (
	"bytes"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"masstone/color"
	"masstone/color/readings"
)

func stated(t *testing.T, name string, o readings.Options) (readings.Table, error) {
	t.Helper()
	f, err := os.Open("testdata/stated/" + name)
	require.NoError(t, err)
	defer f.Close()
	o.File = name
	return readings.Samples(f, o)
}

var (
	sphereExcluded = color.Measurement{Geometry: color.Sphere, Specular: color.SpecularExcluded}
	excluded       = color.Measurement{Specular: color.SpecularExcluded}
	included       = color.Measurement{Specular: color.SpecularIncluded}
	directional    = color.Measurement{Geometry: color.Directional, Specular: color.SpecularExcluded}
)

// TestStatedIsKept holds every file of testdata/stated that is understood, with
// what it states (see SOURCE there) and what must be shown of it.
func TestStatedIsKept(t *testing.T) {
	d50two := color.Under(color.D50, color.TwoDegree)
	d65two := color.Under(color.D65, color.TwoDegree)
	for _, c := range []struct {
		file  string
		o     readings.Options
		under color.Condition
		how   color.Measurement
		taken readings.Circumstances
		shown []string
	}{
		{file: "above.csv", under: d50two, how: excluded, taken: readings.Circumstances{Instrument: "bench 1", Serial: "A-77"},
			shown: []string{"Lab under D50/2", "read specular excluded", "instrument bench 1, serial A-77", "not used of what stands above it: Report, 7"}},
		{file: "passing.csv", under: d50two, how: sphereExcluded, shown: []string{"Lab under D50/2", "read d/8 specular excluded"}},
		{file: "spin.txt", under: d50two, how: sphereExcluded, taken: readings.Circumstances{Mode: "M1", Filter: "UV cut", Serial: "A-77"},
			shown: []string{"Lab under D50/2", "read d/8 specular excluded", "measurement condition M1, filter UV cut, serial A-77"}},
		{file: "sphere.txt", under: d65two, how: sphereExcluded, shown: []string{"Lab under D65/2", "read d/8 specular excluded"}},
		{file: "angles.cxf", under: d65two, how: directional, taken: readings.Circumstances{Mode: "M1_Daylight", Instrument: "bench 1", Serial: "A-77"},
			shown: []string{"Lab under D65/2", "read 45/0 specular excluded", "measurement condition M1_Daylight"}},
		{file: "cell-mode.csv", under: color.D65Ten(), how: excluded, shown: []string{"read specular excluded"}},
		{file: "geometry-45.csv", under: color.D65Ten(), how: directional, shown: []string{"read 45/0 specular excluded"}},
		{file: "unit.csv", under: color.D65Ten(), shown: []string{"the header is taken from line 4"}},
	} {
		t.Run(c.file, func(t *testing.T) {
			got, err := stated(t, c.file, c.o)
			require.NoError(t, err)
			for _, r := range got.Rows {
				assert.Equal(t, c.under, r.Labs[0].Under)
				assert.Equal(t, c.how, r.Measurement)
				assert.Equal(t, c.taken, r.Circumstances)
			}
			for _, text := range c.shown {
				assert.Contains(t, strings.Join(got.Notes, "\n"), text)
			}
		})
	}
}

// TestOptionThatAgrees: to say again what the file says is no contradiction.
func TestOptionThatAgrees(t *testing.T) {
	got, err := stated(t, "above.csv", readings.Options{Condition: color.Under(color.D50, color.TwoDegree), Observer: color.TwoDegree, Measurement: sphereExcluded})
	require.NoError(t, err)
	assert.Equal(t, sphereExcluded, got.Rows[0].Measurement)
}

// The mode asked for is the one that is read.
func TestModeAskedFor(t *testing.T) {
	for mode, l := range map[color.Specular]float64{color.SpecularIncluded: 50, color.SpecularExcluded: 46} {
		got, err := stated(t, "both-modes.csv", readings.Options{Measurement: color.Measurement{Specular: mode}})
		require.NoError(t, err)
		require.Len(t, got.Rows[0].Labs, 1)
		assert.Equal(t, l, got.Rows[0].Labs[0].L)
		assert.Equal(t, mode, got.Rows[0].Measurement.Specular)
	}
}

// Dark percent looks like fractions; what the file states is believed.
func TestStatedPercent(t *testing.T) {
	for _, file := range []string{"percent-title.csv", "norm.txt"} {
		got, err := stated(t, file, readings.Options{})
		require.NoError(t, err, file)
		assert.InDelta(t, 0.0045, got.Rows[0].Spectrum.R[0], 1e-12, file)
		assert.Contains(t, strings.Join(got.Notes, "\n"), "as percent", file)
	}
}

// TestPercentIsAsked: spectra that may be light greys in fractions or blacks in
// percent; what stands beside them may tell.
func TestPercentIsAsked(t *testing.T) {
	yes, no := true, false
	for name, c := range map[string]struct {
		change func(string) string
		o      readings.Options
		want   float64
	}{
		"asked":            {want: -1},
		"percent":          {o: readings.Options{Percent: &yes}, want: 0.005},
		"fractions":        {o: readings.Options{Percent: &no}, want: 0.5},
		"with the surface": {o: readings.Options{Measurement: included}, want: 0.5}, // which alone is 4 %
		"named white":      {change: func(s string) string { return strings.Replace(s, "grey", "white 1", 1) }, want: 0.5},
		"beside a dark L*": {change: labBeside("4.5"), want: 0.005}, // Y 0.5: L* 903.3 Y/100, ISO/CIE 11664-4
		"and a light one":  {change: labBeside("76.07"), want: 0.5}, // Y 50: L* 116 0.5^(1/3) - 16
		"unit above":       {change: func(s string) string { return "Unit,%\n\n" + s }, want: 0.005},
		"marked %":         {change: func(s string) string { return strings.ReplaceAll(s, ",R", ",%R") }, want: 0.005},
	} {
		t.Run(name, func(t *testing.T) {
			data := bandsHeader() + bandsRow("grey", "0.5")
			if c.change != nil {
				data = c.change(data)
			}
			c.o.File = "f"
			got, err := readings.Samples(strings.NewReader(data), c.o)
			if c.want < 0 {
				require.EqualError(t, err, "f:1: the spectra may be those of light pieces in fractions or of blacks in percent; settle it with ⟦percent=false⟧ or ⟦percent⟧")
				return
			}
			require.NoError(t, err)
			assert.InDelta(t, c.want, got.Rows[0].Spectrum.R[0], 1e-12)
		})
	}
	_, err := readings.Samples(strings.NewReader(strings.ReplaceAll(bandsHeader()+bandsRow("grey", "50"), ",R", ",%R")), readings.Options{File: "f", Percent: &no})
	require.EqualError(t, err, "f: says reflectance is percent, but ⟦percent⟧ says false; leave the option out, or correct the file")
}

// labBeside puts columns of Lab beside the spectrum.
func labBeside(l string) func(string) string {
	return func(s string) string {
		lines := strings.Split(s, "\n")
		return lines[0] + ",L_D65,a_D65,b_D65\n" + lines[1] + "," + l + ",0,0\n"
	}
}

// The same lines above a table in a workbook.
func TestStatedInWorkbook(t *testing.T) {
	f := excelize.NewFile()
	for i, row := range [][]any{{"Observer", 2}, {"Mode", "SCE"}, {"Illuminant", "D50"}, {}, {"Name", "L*", "a*", "b*"}, {"red", 50.1, 40.2, 20.3}} {
		cell, err := excelize.CoordinatesToCellName(1, i+1)
		require.NoError(t, err)
		require.NoError(t, f.SetSheetRow("Sheet1", cell, &row))
	}
	var b bytes.Buffer
	require.NoError(t, f.Write(&b))
	got, err := readings.Samples(&b, readings.Options{})
	require.NoError(t, err)
	assert.Equal(t, color.Under(color.D50, color.TwoDegree), got.Rows[0].Labs[0].Under)
	assert.Equal(t, excluded, got.Rows[0].Measurement)
}

// TestOddSpectrumIsTold: three spectra alike and one at 0.4 of their reflectance.
func TestOddSpectrumIsTold(t *testing.T) {
	got, err := stated(t, "repeats.csv", readings.Options{})
	require.NoError(t, err)
	pieces, err := readings.Pieces("repeats.csv", got.Rows)
	require.NoError(t, err)
	require.Len(t, pieces[0].Warnings, 1)
	assert.Equal(t, 5, pieces[0].Warnings[0].Row)
	assert.Contains(t, pieces[0].Warnings[0].Error(), "spectrum 4 of 4 does not belong to the others")
	require.NotNil(t, pieces[0].SpectrumRepeat)
	assert.Equal(t, 3, pieces[0].SpectrumRepeat.Outlier)

	pieces, err = readings.Pieces("repeats.csv", got.Rows[:3]) // the remedy: left out
	require.NoError(t, err)
	assert.Empty(t, pieces[0].Warnings)
}

// TestStatisticsAreNoReadings: rows of statistics below the readings.
func TestStatisticsAreNoReadings(t *testing.T) {
	got, err := stated(t, "summary.csv", readings.Options{})
	require.NoError(t, err)
	assert.Len(t, got.Rows, 2)
	assert.Contains(t, got.Notes, "rows of statistics, not taken for readings: 4 (Average), 5 (Std. Dev.), 6 (Min), 7 (Max), 8 (Sum)")
}

// TestSaidInOtherWords: what files write of their light and way above the table,
// and in columns. The files are made by hand.
func TestSaidInOtherWords(t *testing.T) {
	const table = "name,L,a,b\nred,50,40,20\n"
	for data, want := range map[string]string{
		"Ill.,C\nObs.,2°\n" + table:                                            "C/2 d/8 specular included",
		"Illuminant: A  Observer: 2 degree\n" + table:                          "A/2 d/8 specular included",
		"Illuminant,D50\nMode,M1\nS/N,7\nMeas. area,MAV\n" + table:             "D50/10 d/8 specular included, measurement condition M1, aperture MAV, serial 7",
		"Name,L,a,b,Illuminant,Mode\nred,50,40,20,A,SCE\nred,51,40,20,A,SCE\n": "A/10 d/8 specular excluded",
		"Name,L,a,b,Illuminant,Mode\nred,50,40,20,A,M2\n":                      "A/10 d/8 specular included, measurement condition M2",
		"Lot 5,D65,,,A,,\nname,L,a,b,L,a,b\nred,50,40,20,55,44,30\n":           "D65/10 d/8 specular included",
	} {
		got, err := readings.Samples(strings.NewReader(data), readings.Options{Repeats: true})
		require.NoError(t, err, data)
		r := got.Rows[0]
		require.Equal(t, want, strings.TrimSuffix(fmt.Sprintf("%v %v, %v", r.Labs[0].Under, r.Measurement.Usual(), r.Circumstances), ", "), data)
	}
	_, err := readings.Samples(strings.NewReader("Operator,A\n"+table), readings.Options{})
	require.ErrorContains(t, err, "does not say its illuminant", "an operator is no light")
	_, err = readings.Samples(strings.NewReader("name,L,a,b,illuminant,mode\nred,50,40,20,A,fast\n"), readings.Options{})
	require.ErrorContains(t, err, "column mode: is unknown")
}

// TestSphereStatesItsMode: by a word, or as what is true.
func TestSphereStatesItsMode(t *testing.T) {
	for said, want := range map[[2]string]color.Specular{{"SpecularMode", "Specular_Excluded"}: color.SpecularExcluded, {"Mode", "SCI"}: color.SpecularIncluded,
		{"IsSpecularIncluded", "false"}: color.SpecularExcluded, {"SpecularIncluded", "true"}: color.SpecularIncluded, {"SpecularExcluded", "true"}: color.SpecularExcluded, {"SpecularExcluded", "0"}: color.SpecularIncluded} {
		got, err := readings.Samples(strings.NewReader(sphereMode(said[0], said[1])), readings.Options{})
		require.NoError(t, err, said)
		require.Equal(t, color.Measurement{Geometry: color.Sphere, Specular: want}, got.Rows[0].Measurement, said)
	}
}

// TestWordsOfStatistics: as spreadsheets and instruments write them, and names
// of pieces that only look like them. Common practice, no source.
func TestWordsOfStatistics(t *testing.T) {
	for name, piece := range map[string]bool{"Average": false, "Mean (4)": false, "Mean of 4": false, "Avg. n=4": false, "Std Deviation": false, "StDev.S": false, "s.d.": false,
		"σ": false, "MAX.": false, "Total": false, "Count": false, "CV %": false, "Mittelwert": false, "Average red": false, "Average of red": false, "red mean": false, "red (average)": false,
		"n": true, "CV": true, "Std": true, "red max": true, "Max red": true, "Average blue": true, "mean green 4": true, "Minty": true, "Sum 4": true} {
		got, err := readings.Samples(strings.NewReader("name,L_D65,a_D65,b_D65\nred,50,40,20\n"+name+",51,40,20\n"), readings.Options{})
		require.NoError(t, err, name)
		require.Equal(t, piece, len(got.Rows) == 2, "%s: %v", name, got.Notes)
	}
	got, err := readings.Samples(strings.NewReader("name,L_D65,a_D65,b_D65\nn,50,40,20\nAverage,50,40,20\nCV,0,0,0\nn,1,1,1\n"), readings.Options{})
	require.NoError(t, err)
	require.Len(t, got.Rows, 1)
	require.Equal(t, "n", got.Rows[0].Name)
}

// TestStatisticsDoNotSpeakOfTheUnit: the number of readings below spectra does
// not make them percent.
func TestStatisticsDoNotSpeakOfTheUnit(t *testing.T) {
	var head, red, count strings.Builder
	for nm := 400; nm <= 700; nm += 10 {
		fmt.Fprintf(&head, ",%d", nm)
		red.WriteString(map[bool]string{true: ",0.05", false: ",0.6"}[nm < 600])
		count.WriteString(",4")
	}
	got, err := readings.Samples(strings.NewReader("name"+head.String()+"\nred"+red.String()+"\nCount"+count.String()+"\n"), readings.Options{})
	require.NoError(t, err)
	require.Len(t, got.Rows, 1)
	require.Equal(t, 0.6, got.Rows[0].Spectrum.R[30])
}

func TestHeaderRowAskedFor(t *testing.T) {
	data := "name,L_A,a_A,b_A,note\nx,1,1,1,old\nname,L_D65,a_D65,b_D65\nred,50,40,20\n"
	got, err := readings.Samples(strings.NewReader(data), readings.Options{HeaderRow: 3})
	require.NoError(t, err)
	require.Len(t, got.Rows, 1)
	assert.Equal(t, color.D65Ten(), got.Rows[0].Labs[0].Under)
	_, err = readings.Samples(strings.NewReader(data), readings.Options{HeaderRow: 9})
	require.ErrorContains(t, err, "is no row of the table; say another ⟦header-row⟧, or leave it out")
}

// TestWayAskedFor: a file with several ways of reading one piece asks for a
// choice, and takes the readings of the one that was made.
func TestWayAskedFor(t *testing.T) {
	mode := func(m string) readings.Options { return readings.Options{Mode: m} }
	way := func(m color.Measurement) readings.Options { return readings.Options{Measurement: m} }
	for _, c := range []struct {
		file, asks string
		choices    map[float64]readings.Options // by the L* they give
	}{
		{"both-modes.csv", "choose one by ⟦specular=included⟧ or ⟦specular=excluded⟧", map[float64]readings.Options{50: way(included), 46: way(excluded)}},
		{"modes.csv", "modes.csv:3: red: was read in several ways, specular mode included and excluded; choose one by ⟦specular=included⟧ or ⟦specular=excluded⟧", map[float64]readings.Options{50: way(included), 46: way(excluded)}},
		{"m-conditions.csv", "choose one by ⟦m-condition=M0⟧ or ⟦m-condition=M1⟧", map[float64]readings.Options{-2: mode("M0"), -4: mode("M1")}},
		{"m-headers.csv", "choose one by ⟦m-condition=M0⟧ or ⟦m-condition=M1⟧", map[float64]readings.Options{-2: mode("M0"), -4: mode("M1")}},
		{"two-angles.cxf", "two-angles.cxf:3: red: was read in several ways, geometry 45/0 and 45/15; choose one by ⟦geometry=45/0⟧", map[float64]readings.Options{50: way(directional)}},
	} {
		t.Run(c.file, func(t *testing.T) {
			_, err := stated(t, c.file, readings.Options{})
			require.ErrorContains(t, err, c.asks)
			assert.NotContains(t, err.Error(), "\n", "one line")
			for want, o := range c.choices {
				got, err := stated(t, c.file, o)
				require.NoError(t, err)
				lab := got.Rows[0].Labs[0]
				assert.Contains(t, []float64{lab.L, lab.B}, want)
				assert.Equal(t, o.Mode, got.Rows[0].Circumstances.Mode)
				pieces, err := readings.Pieces(c.file, got.Rows)
				require.NoError(t, err)
				assert.Len(t, pieces[0].Readings, 1)
			}
		})
	}
	_, err := stated(t, "spin.txt", mode("M0"))
	require.ErrorContains(t, err, "says measurement condition M1, but ⟦m-condition⟧ says M0; leave the option out, or correct the file")
	_, err = stated(t, "spin.txt", mode("M1"))
	require.NoError(t, err)
}

// Bands of two ways side by side.
func TestBandsOfTwoWays(t *testing.T) {
	header := strings.TrimSpace(bandsHeader())
	both := strings.ReplaceAll(header, "R", "SCI R") + strings.ReplaceAll(strings.TrimPrefix(header, "name"), "R", "SCE R") + "\n"
	data := both + "grey" + strings.Repeat(",0.24", 16) + strings.Repeat(",0.2", 15) + ",0.09\n"
	_, err := readings.Samples(strings.NewReader(data), readings.Options{})
	require.ErrorContains(t, err, "choose one by ⟦specular=included⟧ or ⟦specular=excluded⟧")
	for mode, r := range map[color.Specular]float64{color.SpecularIncluded: 0.24, color.SpecularExcluded: 0.2} {
		got, err := readings.Samples(strings.NewReader(data), readings.Options{Measurement: color.Measurement{Specular: mode}})
		require.NoError(t, err)
		assert.Equal(t, r, got.Rows[0].Spectrum.R[0])
		assert.Equal(t, mode, got.Rows[0].Measurement.Specular)
	}
}

// TestStandardAndTrialStayTwo: a standard and a trial of one name.
func TestStandardAndTrialStayTwo(t *testing.T) {
	for file, names := range map[string][]string{"standard-trial.csv": {"red (standard)", "red (trial)", "blue"}, "standard-trial.cxf": {"red (standard)", "red (trial)"}} {
		got, err := stated(t, file, readings.Options{})
		require.NoError(t, err, file)
		pieces, err := readings.Pieces(file, got.Rows)
		require.NoError(t, err, file)
		var is []string
		for _, p := range pieces {
			is = append(is, p.Name)
		}
		assert.Equal(t, names, is, file)
		assert.Contains(t, got.Notes, "a standard and a trial of one name are two pieces: red", file)
	}
}
