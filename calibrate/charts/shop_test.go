package charts

import (
	"context"
	"math/rand/v2"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
)

// fitted is a calibration with the chips it came from.
type fitted struct {
	shop  *virtualshop.Shop
	chips []calibrate.Chip
	cal   *calibrate.Calibration
}

var shops sync.Map

// shop fits a Kubelka-Munk shop from spectra, once per number of pigments.
func shop(t testing.TB, pigments int) fitted {
	once, _ := shops.LoadOrStore(pigments, sync.OnceValues(func() (fitted, error) {
		s := virtualshop.Painted(7, max(pigments, 2))
		plan := s.Study(virtualshop.TwoTint)
		if pigments == 1 {
			plan = plan[:4] // those of the white
		}
		chips := virtualshop.Spectra.Of(s.CastAll(rand.New(rand.NewPCG(1, 2)), plan))
		cal, err := calibrate.Fit(context.Background(), s.Codes[:pigments], chips, calibrate.Options{Layer: calibrate.KubelkaMunk})
		return fitted{s, chips, cal}, err
	}))
	f, err := once.(func() (fitted, error))()
	require.NoError(t, err)
	return f
}

// renamed is a copy of a calibration with other names for its pigments and
// chips, from the first on.
func renamed(f fitted, codes, names []string) fitted {
	cal := *f.cal
	cal.Curves = append([]calibrate.Curve(nil), cal.Curves...)
	for i, code := range codes {
		cal.Curves[i+1].Code = code
	}
	cal.Chips = append([]calibrate.ChipReport(nil), cal.Chips...)
	chips := append([]calibrate.Chip(nil), f.chips...)
	for i, name := range names {
		cal.Chips[i].Chip, chips[i].Name = name, name
	}
	return fitted{f.shop, chips, &cal}
}
