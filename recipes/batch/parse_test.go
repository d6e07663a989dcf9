package batch_test

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/recipes/batch"
)

func TestMassText(t *testing.T) {
	require.Equal(t, "1.30", batch.Grams(1.3).At(batch.Grams(0.01)))
	require.Equal(t, "1.3", batch.Grams(1.3).At(batch.Grams(0.1)))
	require.Equal(t, "1", batch.Grams(1.3).At(batch.Grams(1)))
	require.Equal(t, "-0.05 g", batch.Grams(-0.05).String())
	require.Equal(t, "-1000000000 g", batch.Grams(math.NaN()).String())
	require.False(t, batch.Grams(math.NaN()).Positive())
	require.Equal(t, "1000000000 g", batch.Grams(math.Inf(1)).String())
	require.Equal(t, "18.5 ml", batch.Millilitres(18.5).String())
}

func TestParseRatio(t *testing.T) {
	r, err := batch.ParseRatio(" 100 : 90 ")
	require.NoError(t, err)
	require.Equal(t, batch.Ratio{A: 100, B: 90}, r)
	require.InDelta(t, 10.0/19, r.Share(batch.SideA), 1e-12)
	require.InDelta(t, 9.0/19, r.Share(batch.SideB), 1e-12)
	for _, text := range []string{"", "100", "100:", ":90", "100:0", "100:-90", "100:90:1", "1:2000", "nan:1", "100,0:90"} {
		_, err := batch.ParseRatio(text)
		require.ErrorContains(t, err, "100:90", text)
	}
}

func TestParseSide(t *testing.T) {
	s, err := batch.ParseSide(" b ")
	require.NoError(t, err)
	require.Equal(t, batch.SideB, s)
	_, err = batch.ParseSide("C")
	require.ErrorContains(t, err, "give A or B")
}

func TestParseWaste(t *testing.T) {
	for text, want := range map[string]float64{"10%": 0.1, "10 %": 0.1, "0.10": 0.1, "0": 0, "150%": 1.5} {
		w, err := batch.ParseWaste(text)
		require.NoError(t, err, text)
		require.InDelta(t, want, w, 1e-12, text)
	}
	for text, says := range map[string]string{"10": "write 10%", "1": "write 1%", "-5%": "percentage", "": "percentage", "ten%": "percentage", "900%": "percentage", "1,5%": "percentage"} {
		_, err := batch.ParseWaste(text)
		require.ErrorContains(t, err, says, text)
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"100:90", "10%", "0.1", "1,3", "1e309", "b"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		oneLine := func(err error) {
			if err != nil && strings.Contains(err.Error(), "\n") {
				t.Errorf("error of several lines: %q", err)
			}
		}
		r, err := batch.ParseRatio(text)
		oneLine(err)
		if err == nil && !(math.Abs(r.Share(batch.SideA)+r.Share(batch.SideB)-1) <= 1e-12) {
			t.Errorf("ratio %v from %q", r, text)
		}
		w, err := batch.ParseWaste(text)
		oneLine(err)
		if err == nil && !(w >= 0 && w <= 5) {
			t.Errorf("waste %g from %q", w, text)
		}
		_, err = batch.ParseSide(text)
		oneLine(err)
	})
}

// A sheet comes back from storage; whatever it holds then, the answer is an
// error or a rescue that only adds.
func FuzzStoredSheet(f *testing.F) {
	r := request(100, map[string]batch.PHR{"WH": 1, "BK": 0.02})
	s, err := batch.Plan(r)
	if err != nil {
		f.Fatal(err)
	}
	written, err := json.Marshal(s)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(written, 0.6)
	f.Add([]byte(`{"lines":[{"item":"B","kind":"resin","grams":1}],"total_grams":1}`), 1.0)
	f.Add([]byte(`{"mix":"100:90","pigment_side":"B","scale_grams":0.01,"mixed_resin_grams":1,"total_grams":1e9}`), -1.0)
	f.Fuzz(func(t *testing.T, data []byte, grams float64) {
		var s batch.Sheet
		if json.Unmarshal(data, &s) != nil {
			return
		}
		out, err := batch.Overshoot(r, s, batch.Poured{"BK": batch.Grams(grams)})
		if err != nil {
			return
		}
		for _, x := range out.Remedies {
			for _, l := range x.Lines {
				if l.Add.Compare(batch.Mass{}) < 0 {
					t.Errorf("%s takes %v of %s out", x.Way, l.Add, l.Item)
				}
			}
		}
		if _, err := json.Marshal(out); err != nil {
			t.Errorf("rescue cannot be written: %v", err)
		}
	})
}
