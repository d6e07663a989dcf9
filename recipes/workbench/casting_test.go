package workbench

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/color"
	"masstone/recipes/archive"
)

// TestOneCasting: chips that are one cup, read over one backing after the other, are one
// casting to the fit, whether a file says so or the plan.
func TestOneCasting(t *testing.T) {
	b, _ := planOn(t)
	castings := func(resin string, names ...string) (out []string) {
		t.Helper()
		for _, name := range names {
			c, err := b.archive.Chip(t.Context(), resin, name)
			require.NoError(t, err)
			heard, _, err := evidenceOf(t.Context(), b.archive, []archive.Chip{c})
			require.NoError(t, err)
			out = append(out, heard[0].Casting)
		}
		return out
	}
	for _, name := range []string{"resin-white", "resin-black", "KK1-white"} {
		place, err := Place(t.Context(), b, PlaceRequest{Kind: ChipPiece, Resin: "NEW", Name: name})
		require.NoError(t, err)
		_, err = AddReadings(t.Context(), b, AddReadingsRequest{Place: place, Labs: []color.Lab{{L: 60, A: 1, B: -3, Under: color.D65Ten()}}})
		require.NoError(t, err)
	}
	require.Equal(t, []string{"resin-white", "resin-white", ""}, castings("NEW", "resin-white", "resin-black", "KK1-white"))

	file := func(black string) File {
		return asFile("chips.csv", "chip,backing,casting,thickness_mm,WH,L_D65,a_D65,b_D65\nn1,white,cup 1,3,1,80,0,1\n"+black)
	}
	for _, other := range []string{"3,1.1", "2,1"} {
		_, err := ImportChips(t.Context(), b, ImportChipsRequest{Resin: testResin, Chips: file(fmt.Sprintf("n2,black,cup 1,%s,70,0,1\n", other))})
		require.ErrorContains(t, err, `chips.csv:3: n2: column casting: "cup 1" has other loadings or another thickness in chip n1; a casting has one content and one thickness`)
	}
	_, err := ImportChips(t.Context(), b, ImportChipsRequest{Resin: testResin, Chips: file("n2,black,cup 1,3,1,70,0,1\nn3,black,,2,1,60,0,1\n")})
	require.NoError(t, err)
	require.Equal(t, []string{"cup 1", "cup 1", ""}, castings(testResin, "n1", "n2", "n3"))

	// Chips of a plan that a file does not say it of are what the plan has, so that the
	// same content stays the same by whichever way it comes.
	plain := func(thick string) File {
		return asFile("chips.csv", "chip,backing,thickness_mm,chip_grams,scale_g,WH,L_D65,a_D65,b_D65\nresin-white,white,"+thick+",50,0.01,0,60,1,-3\nresin-black,black,"+thick+",50,0.01,0,60,1,-3\n")
	}
	_, err = ImportChips(t.Context(), b, ImportChipsRequest{Resin: testResin, Chips: plain("3")})
	require.NoError(t, err)
	require.Equal(t, []string{"", ""}, castings(testResin, "resin-white", "resin-black"), "another resin's plan says nothing of it")
	v, err := ImportChips(t.Context(), b, ImportChipsRequest{Resin: "NEW", Chips: plain("3"), Preview: true})
	require.NoError(t, err)
	require.Equal(t, []string{"resin-white", "resin-black"}, v.Unchanged)
	_, err = ImportChips(t.Context(), b, ImportChipsRequest{Resin: "NEW", Chips: plain("2"), Replace: true})
	require.NoError(t, err)
	require.Equal(t, []string{"", ""}, castings("NEW", "resin-white", "resin-black"), "they are not as planned")
	_, err = ImportChips(t.Context(), b, ImportChipsRequest{Resin: "NEW", Chips: plain("3"), Replace: true})
	require.NoError(t, err)
	require.Equal(t, []string{"resin-white", "resin-white"}, castings("NEW", "resin-white", "resin-black"))
}

// TestOneCastingOfALot: chips of a lot that are one cup are one casting too, and no
// casting of the chips that were calibrated by.
func TestOneCastingOfALot(t *testing.T) {
	b := newBench(t)
	code := testShop().Codes[2]
	addLots(t, b, code, "K-1")
	of := func(black string) File {
		return asFile("lot.csv", "chip,backing,cup,thickness_mm,WH,"+code+",L_D65,a_D65,b_D65\none,white,c,3,1,0.3,60,-20,10\ntwo,black,c,"+black+",1,0.3,60,-20,10\n")
	}
	r := LearnLotRequest{Code: code, Lot: "K-1", ChipGrams: 50, ScaleGrams: 0.01}
	r.Chips = of("2")
	_, err := LearnLot(t.Context(), b, r)
	require.ErrorContains(t, err, `lot.csv:3: two: column casting: "c" has other loadings or another thickness in chip one`)
	r.Chips = of("3")
	_, err = LearnLot(t.Context(), b, r)
	require.NoError(t, err)
	c, err := b.archive.Chip(t.Context(), testResin, code+" lot K-1: two")
	require.NoError(t, err)
	require.Equal(t, code+" lot K-1: c", c.Casting)
}
