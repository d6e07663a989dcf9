package readings_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/color/readings"
)

func TestPigments(t *testing.T) {
	list, err := readings.Pigments(strings.NewReader(`code;C.I. Name;name;Density (g/ml);max phr;price/kg;stock_g;heat class;light_class;strength %;note
WH;PW6;Gull white;1,82;6;14,5;850;4;8;;let it stir
UB;PB29;Harbour blue;1,4;4;31,00;0;4;7-8;10;
NN
`), readings.Options{})
	require.NoError(t, err)
	require.Len(t, list, 3)
	wh, ub, nn := list[0], list[1], list[2]
	require.Equal(t, readings.Pigment{Line: 2, Code: "WH", CIName: "PW6", Name: "Gull white", DensityGML: wh.DensityGML, MaxPHR: wh.MaxPHR, PricePerKg: wh.PricePerKg, StockG: wh.StockG, HeatClass: "4", LightClass: "8", Note: "let it stir"}, wh)
	require.Equal(t, 1.82, *wh.DensityGML)
	require.Equal(t, 6.0, *wh.MaxPHR)
	require.Equal(t, 14.5, *wh.PricePerKg)
	require.Equal(t, 850.0, *wh.StockG)
	require.Equal(t, 0.0, *ub.StockG, "an empty jar is not an unknown one")
	require.Equal(t, 10.0, *ub.StrengthPercent)
	require.Equal(t, readings.Pigment{Line: 4, Code: "NN"}, nn)
}

func TestBadPigments(t *testing.T) {
	for _, c := range []struct{ data, want string }{
		{"name\nx", "p.csv:1: no column code; give every pigment a short code of its own"},
		{"code,name\n,x", "p.csv:2: column code: is empty; give the pigment a short code"},
		{"code,name\nW H,x", `p.csv:2: W H: column code: "W H" is no code; use a letter, then up to 15 letters, digits, or . _ / -`},
		{"code,name\n1W,x", `p.csv:2: 1W: column code: "1W" is no code; use a letter, then up to 15 letters, digits, or . _ / -`},
		{"code,name\nL,x", `p.csv:2: L: column code: "L" is the name of another column; choose another code`},
		{"code,name\nR400,x", `p.csv:2: R400: column code: "R400" is the name of another column; choose another code`},
		{"code,name\nmix,x", `p.csv:2: mix: column code: "mix" is the name of another column; choose another code`},
		{"code,name\nWH,x\nwh,y", "p.csv:3: wh: the code already stands in row 2; give each pigment its own code"},
		{"code,density\nWH,-1", "p.csv:2: WH: column density: density -1 is impossible; write a value from 0.3 to 12, or leave it empty"},
		{"code,density\nWH,heavy", `p.csv:2: WH: column density: "heavy" is not a number; write a plain number`},
		{"code,max_phr\nWH,101", "p.csv:2: WH: column max_phr: loading 101 is impossible; write a value from 0 to 100, or leave it empty"},
		{"code,strength\nWH,0", "p.csv:2: WH: column strength: strength 0 is impossible; write a value from 0.001 to 100, or leave it empty"},
		{"code,hue\nWH,0", `p.csv:1: column hue: is unknown; use code, ci_name, name, supplier, lot, density, max_phr, price_per_kg, stock_g, heat_class, light_class, strength_percent, note, or ⟦map=hue=ignore⟧`},
		{"code,name,name\nWH,a,b", "p.csv:1: column name: means the same as column name; keep one"},
	} {
		list, err := readings.Pigments(strings.NewReader(c.data+"\n"), readings.Options{File: "p.csv"})
		require.EqualError(t, err, c.want)
		require.Nil(t, list)
	}
}
