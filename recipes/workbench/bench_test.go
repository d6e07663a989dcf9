package workbench

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
	"masstone/color"
	"masstone/recipes/archive"
	"masstone/recipes/archive/engine"
)

// The bench of these tests is an invented shop (calibrate/virtualshop): resin
// CLR, five pigments, their chips fitted from one Lab each.
const (
	testResin    = "CLR"
	testPigments = 5
)

var testShop = sync.OnceValue(func() *virtualshop.Shop { return virtualshop.Painted(3, testPigments) })

// testFile is a bench file with the shop on it and its fit, made once.
var testFile = sync.OnceValues(func() ([]byte, error) {
	dir, err := os.MkdirTemp("", "workbench")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	ctx, shop := context.Background(), testShop()
	file := filepath.Join(dir, "bench.db")
	b, err := archive.Create(ctx, file, archive.Options{Now: testClock(30), Who: "ada", Program: "test"})
	if err != nil {
		return nil, err
	}
	err = b.Together(ctx, func(b *archive.Bench) error {
		if _, err := b.PutResin(ctx, archive.Resin{Code: testResin, MixA: 100, MixB: 90, DensityA: 1.05, DensityB: 1, PotLife: 7 * time.Minute, PigmentSide: "B", MaxPHR: 6}, archive.Refuse); err != nil {
			return err
		}
		for name, r := range map[string]float64{"white": shop.Setting.Backing[0], "black": shop.Dark[0]} {
			if _, err := b.PutBacking(ctx, archive.Backing{Name: name, Constant: &r, Source: "stated"}, archive.Replace); err != nil {
				return err
			}
		}
		var pigments []archive.Pigment
		for _, code := range shop.Codes {
			pigments = append(pigments, archive.Pigment{Code: code, Name: "paste " + code, Density: 1.2})
		}
		if _, err := b.ImportPigments(ctx, pigments); err != nil {
			return err
		}
		chips := virtualshop.OneLight.Of(shop.CastAll(rand.New(rand.NewPCG(1, 2)), shop.Study(virtualshop.TwoTint)))
		cal, err := calibrate.Fit(ctx, shop.Codes, chips, calibrate.Options{Layer: calibrate.KubelkaMunk})
		if err != nil {
			return err
		}
		document, err := json.Marshal(cal)
		if err != nil {
			return err
		}
		cards := make([]archive.Chip, len(chips))
		for i, c := range chips {
			over := "white"
			if c.Backing == shop.Dark {
				over = "black"
			}
			lab := archive.LabOf(c.Labs[0])
			cards[i] = archive.Chip{Resin: testResin, Name: c.Name, Loadings: floats(c.Loadings), Backing: over, ThicknessMM: float64(c.Thickness), ChipGrams: float64(c.ChipGrams), ScaleGrams: float64(c.ScaleGrams),
				Readings: []archive.Reading{{Lab: &lab, Geometry: string(c.Measurement.Geometry), Specular: string(c.Measurement.Specular)}}}
		}
		if _, err := b.ImportChips(ctx, testResin, cards, archive.Refuse); err != nil {
			return err
		}
		stored, err := b.Chips(ctx, testResin)
		if err != nil {
			return err
		}
		refs := make([]string, len(stored))
		for i, c := range stored {
			refs[i] = c.Ref
		}
		_, err = b.AddCalibration(ctx, archive.Calibration{Resin: testResin, Layer: cal.Layer.Name, Chips: refs, Document: document})
		return err
	})
	if err != nil {
		return nil, err
	}
	if err := b.Close(); err != nil {
		return nil, err
	}
	return os.ReadFile(file)
})

// testClock runs a second at every look, from nine on a day of March.
func testClock(day int) func() time.Time {
	var mu sync.Mutex
	now := time.Date(2026, 3, day, 9, 0, 0, 0, time.UTC)
	return func() time.Time {
		mu.Lock()
		defer mu.Unlock()
		now = now.Add(time.Second)
		return now
	}
}

// newBench is a bench of its own with the invented shop on it.
func newBench(t testing.TB) *Bench {
	t.Helper()
	file := filepath.Join(t.TempDir(), "bench.db")
	data, err := testFile()
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(file, data, 0o644))
	return openBench(t, file)
}

// openBench opens a bench once more, as another program would.
func openBench(t testing.TB, file string) *Bench {
	t.Helper()
	b, err := Open(t.Context(), file, Options{Now: testClock(31), Who: "ada", Program: "test"})
	require.NoError(t, err)
	t.Cleanup(func() { b.Close() })
	b.archive = b.archive.Through(func(on engine.DB) engine.DB { return &refusing{DB: on} })
	return b
}

// refusing is an engine that undoes every change once for the sake of another, so that
// all that verbs store is stored in a second try; what they say must be the same.
type refusing struct {
	engine.DB
	sealed atomic.Int64
}

func (r *refusing) Seal(ctx context.Context, tx *sql.Tx) error {
	if r.sealed.Add(1)%2 == 1 {
		return engine.Undo(archive.ErrBusy)
	}
	return r.DB.Seal(ctx, tx)
}

// partOf is the colour under D65 of a part of the invented shop with exactly
// these loadings, on the shop's usual setting.
func partOf(loadings map[string]float64) color.Lab {
	return testShop().Color(phrs(loadings), testShop().Setting, color.D65Ten())
}

// typed is a reading as a person types it.
func typed(l color.Lab) string { return fmt.Sprintf("%.2f,%.2f,%.2f", l.L, l.A, l.B) }

// addTarget puts a target on the bench that a mixture of the shop would be.
func addTarget(t testing.TB, b *Bench, name string, loadings map[string]float64) archive.Target {
	t.Helper()
	lab := archive.LabOf(partOf(loadings))
	_, err := b.archive.PutTarget(t.Context(), archive.Target{Client: "Tern", Name: name, ThicknessMM: float64(testShop().Setting.Thickness), Backing: "white",
		Tolerance: 1, Formula: string(color.CIEDE2000), Readings: []archive.Reading{{Lab: &lab, Geometry: "d/8", Specular: "included"}}}, archive.Refuse)
	require.NoError(t, err)
	target, err := b.archive.Target(t.Context(), "Tern", name)
	require.NoError(t, err)
	return target
}

// limits of a match as the commands set them.
func usualLimits() Limits {
	return Limits{MaxPigments: 3, Recipes: 5, BatchGrams: 100, ScaleGrams: 0.01}
}

// TestMatchesAtOnceStoreARecipeOnce: several programs that ask for the same
// target at once keep each recipe once.
func TestMatchesAtOnceStoreARecipeOnce(t *testing.T) {
	b := newBench(t)
	addTarget(t, b, "lamp", map[string]float64{"WH": 1.5, "BK": 0.1, testShop().Codes[2]: 0.4})
	const programs = 4
	var wg sync.WaitGroup
	found := make([]MatchResult, programs)
	failed := make([]error, programs)
	for i := range programs {
		other := openBench(t, b.Path())
		wg.Go(func() {
			found[i], failed[i] = Match(t.Context(), other, MatchRequest{Target: "lamp", Limits: usualLimits()})
		})
	}
	wg.Wait()
	for i := range programs {
		require.NoError(t, failed[i])
		for n, r := range found[i].Recipes {
			require.Equal(t, found[0].Recipes[n].ID, r.ID)
		}
	}
	stored, err := b.archive.Recipes(t.Context(), "Tern", "lamp")
	require.NoError(t, err)
	require.Len(t, stored, len(found[0].Recipes))
}
