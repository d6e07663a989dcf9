package readings_test

import (
	"bytes"
	"encoding/binary"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/color"
	"masstone/color/readings"
)

// bandsRow is a row of 16 cells of one text behind a name.
func bandsRow(name, cell string) string { return name + strings.Repeat(","+cell, 16) + "\n" }

func bandsHeader() string {
	h := "name"
	for nm := 400; nm <= 700; nm += 20 {
		h += ",R" + string(rune('0'+nm/100)) + string(rune('0'+nm/10%10)) + "0"
	}
	return h + "\n"
}

// A row of units and percent signs say that dark values are percent.
func TestUnitsAreStated(t *testing.T) {
	for name, data := range map[string]string{
		"row of units":  bandsHeader() + bandsRow("", "%") + bandsRow("black", "0.5"),
		"percent signs": bandsHeader() + bandsRow("black", "0.5%"),
		"with a blank":  bandsHeader() + bandsRow("black", "0.5 %"),
	} {
		got, err := readings.Samples(strings.NewReader(data), readings.Options{})
		require.NoError(t, err, name)
		require.Len(t, got.Rows, 1, name)
		assert.InDelta(t, 0.005, got.Rows[0].Spectrum.R[3], 1e-12, name)
	}
	// Units the columns are not read in are not put aside.
	_, err := readings.Samples(strings.NewReader("name,thickness_mm,L_D65,a_D65,b_D65\n,in,,,\nred,3,50,40,20\n"), readings.Options{})
	require.Error(t, err)
}

const oneRed = "name,D65LAB_L,D65LAB_A,D65LAB_B\nred,50,40,20\n"

// Texts without a byte-order mark, with the line ends of old programs, and with
// the light before LAB in the header.
func TestOldTexts(t *testing.T) {
	units := utf16.Encode([]rune(oneRed))
	for name, data := range map[string][]byte{
		"plain":                []byte(oneRed),
		"CR":                   []byte(strings.ReplaceAll(oneRed, "\n", "\r")),
		"CR LF":                []byte(strings.ReplaceAll(oneRed, "\n", "\r\n")),
		"UTF-16 little-endian": wide(units, binary.LittleEndian),
		"UTF-16 big-endian":    wide(units, binary.BigEndian),
	} {
		got, err := readings.Samples(bytes.NewReader(data), readings.Options{})
		require.NoError(t, err, name)
		require.Len(t, got.Rows, 1, name)
		assert.Equal(t, color.Lab{L: 50, A: 40, B: 20, Under: color.D65Ten()}, got.Rows[0].Labs[0], name)
	}
}

func wide(units []uint16, order binary.AppendByteOrder) []byte {
	var out []byte
	for _, u := range units {
		out = order.AppendUint16(out, u)
	}
	return out
}

// TestNamesStayText: a name that a spreadsheet would compute is written with an
// apostrophe before it, and read back without.
func TestNamesStayText(t *testing.T) {
	for _, name := range []string{"=1+1", "+red", "-red", "@red", "'=red", "'red"} {
		row := readings.Row{Name: name, Labs: []color.Lab{{L: 50, Under: color.D65Ten()}}}
		var b bytes.Buffer
		require.NoError(t, readings.WriteCSV(&b, readings.Table{Rows: []readings.Row{row}}))
		line := strings.Split(b.String(), "\n")[1]
		assert.False(t, strings.ContainsAny(line[:1], "=+-@\t"), line)
		got, err := readings.Samples(&b, readings.Options{})
		require.NoError(t, err, name)
		assert.Equal(t, name, got.Rows[0].Name)
	}
}
