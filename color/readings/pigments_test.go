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
