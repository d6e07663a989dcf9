package gamut

import (
	"context"
	"math/rand/v2"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
)

// fitted is a shop with its calibration.
type fitted struct {
	shop *virtualshop.Shop
	cal  *calibrate.Calibration
}

var shops sync.Map

// shelves are numbers of pigments, in the study with the largest.
func shelves(pigments ...int) []int {
	if whole {
		pigments = append(pigments, 12)
	}
	return pigments
}

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
		return fitted{s, cal}, err
	}))
	f, err := once.(func() (fitted, error))()
	require.NoError(t, err)
	return f
}
