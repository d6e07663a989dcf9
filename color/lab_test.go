package color

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Newhall, Nickerson, Judd 1943: chips as x, y, Y under C/2.
func TestMunsellRenotationToLab(t *testing.T) {
	c := Condition{C, TwoDegree}
	white, err := WhitePoint(c)
	require.NoError(t, err)
	for _, row := range readFigures(t, "newhall1943/chips.csv") {
		x, y, lum := row.num(t, "x"), row.num(t, "y"), row.num(t, "Y_prd")
		got, err := XYZ{lum * x / y, lum, lum * (1 - x - y) / y, c}.Against(white)
		require.NoError(t, err)
		for k, want := range row.triple(t, "L", "a", "b") {
			assert.InDelta(t, want, got.Values()[k], 0.01, "%s, value %d", row["munsell"], k)
		}
	}
}

func TestConversionsThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		under := Condition{
			rapid.SampledFrom(Illuminants()).Draw(t, "light"),
			rapid.SampledFrom([]Observer{TwoDegree, TenDegree}).Draw(t, "observer"),
		}
		x := LabFrom(drawLab(t, "lab"), under)
		xyz, err := x.XYZ()
		if err != nil {
			t.Fatal(err)
		}
		back, err := xyz.Lab()
		if err != nil {
			t.Fatal(err)
		}
		lch := x.LCh()
		if lch.H < 0 || lch.H >= 360 || lch.C < 0 {
			t.Fatalf("%v: %v", x, lch)
		}
		around := lch.Lab()
		for k, want := range x.Values() {
			if !(math.Abs(back.Values()[k]-want) <= 1e-9) || !(math.Abs(around.Values()[k]-want) <= 1e-9) {
				t.Fatalf("%v came back as %v by XYZ, %v by LCh", x, back, around)
			}
		}
		if back.Under != under || around.Under != under {
			t.Fatal("the condition was lost")
		}
	})
}

func TestHueStaysBelowAFullTurn(t *testing.T) {
	assert.Zero(t, Lab{50, 10, -1e-300, D65Ten()}.LCh().H)
	assert.Equal(t, 90.0, Lab{50, 0, 3, D65Ten()}.LCh().H)
	assert.Equal(t, 270.0, Lab{50, 0, -3, D65Ten()}.LCh().H)
}

func TestConversionsRefuse(t *testing.T) {
	_, err := Lab{50, 0, 0, Condition{}}.XYZ()
	assert.ErrorContains(t, err, "unknown illuminant")
	_, err = XYZ{50, 50, 50, Condition{D65, 3}}.Lab()
	assert.ErrorContains(t, err, "unknown observer")
	_, err = XYZ{50, 50, 50, D65Ten()}.Against(XYZ{95, 100, 109, Condition{D65, TwoDegree}})
	assert.ErrorIs(t, err, ErrConditions)
	_, err = XYZ{50, 50, 50, D65Ten()}.Against(XYZ{0, 100, 109, D65Ten()})
	assert.ErrorContains(t, err, "not positive")
	_, err = WhitePoint(Condition{"E", 2})
	assert.ErrorContains(t, err, "unknown illuminant")
}
