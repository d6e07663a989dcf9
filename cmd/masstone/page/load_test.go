//go:build unix

package page_test

import (
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes/batch"
	"masstone/recipes/workbench"
)

// twelvePigments is a bench with the chips of testdata/real_pigments, fitted from
// Lab under one light, and one target.
func twelvePigments(b testing.TB) *workbench.Bench {
	bench := emptyBench(b)
	file := func(name string) workbench.File {
		f, err := os.Open(filepath.Join("../../../testdata/real_pigments", name))
		require.NoError(b, err)
		b.Cleanup(func() { f.Close() })
		return workbench.File{Name: name, Data: f}
	}
	_, err := workbench.AddResin(b.Context(), bench, workbench.AddResinRequest{Code: "CLR", Mix: batch.Ratio{A: 100, B: 90}, PigmentSide: "B", MaxPHR: 6})
	require.NoError(b, err)
	_, err = workbench.ImportPigments(b.Context(), bench, workbench.ImportPigmentsRequest{File: file("pigments.csv")})
	require.NoError(b, err)
	_, err = workbench.ImportChips(b.Context(), bench, workbench.ImportChipsRequest{Chips: file("chips.csv"), ChipGrams: 50, ScaleGrams: 0.01})
	require.NoError(b, err)
	_, err = workbench.Fit(b.Context(), bench, workbench.FitRequest{Resin: "CLR", Layer: calibrate.KubelkaMunk})
	require.NoError(b, err)
	_, err = workbench.AddTarget(b.Context(), bench, workbench.AddTargetRequest{Name: lamp, Client: client, Readings: workbench.Readings{Typed: []string{"60,20,15"}, Condition: color.D65Ten()}})
	require.NoError(b, err)
	return bench
}

// measured are times by what was asked for.
type measured struct {
	mu sync.Mutex
	of map[string][]time.Duration
}

func (m *measured) took(what string, since time.Time) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.of[what] = append(m.of[what], time.Since(since))
}

// p95 is what 95 of 100 took no longer than, in milliseconds.
func (m *measured) p95(what string) float64 {
	all := m.of[what]
	if len(all) == 0 {
		return 0
	}
	slices.Sort(all)
	return float64(all[len(all)*95/100]) / float64(time.Millisecond)
}

// BenchmarkTwentyPeople has twenty people at one bench of 12 pigments, each doing
// one thing after the other: looking at pages, moving sliders, storing targets,
// asking for a match now and then. With -benchtime 60s it is the study of the
// figures; every answer must be right and every write kept.
func BenchmarkTwentyPeople(b *testing.B) {
	bench := twelvePigments(b)
	site := served(b, bench)
	m := measured{of: map[string][]time.Duration{}}
	var memory runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&memory)
	before := memory.HeapAlloc
	stored := make(chan string, 1<<20)
	b.SetParallelism((20 + runtime.GOMAXPROCS(0) - 1) / runtime.GOMAXPROCS(0))
	var person sync.Map
	b.ResetTimer()
	b.RunParallel(func(pb *testing.PB) {
		rng := rand.New(rand.NewPCG(1, 2))
		v := &visitor{t: b, client: &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: 1}}}
		person.Store(v, true)
		get := func(what, path string, holds string) {
			began := time.Now()
			r, err := v.client.Get(site + path)
			if err != nil {
				b.Error(err)
				return
			}
			text, err := io.ReadAll(r.Body)
			r.Body.Close()
			m.took(what, began)
			if err != nil || r.StatusCode != http.StatusOK || !strings.Contains(string(text), holds) {
				b.Errorf("%s: %d, %v, no %q", path, r.StatusCode, err, holds)
			}
		}
		post := func(what, path string, pairs ...string) string {
			began := time.Now()
			r, err := v.client.PostForm(site+path, values(append(pairs, "key", fmt.Sprintf("k%x", rng.Uint64()^uint64(began.UnixNano())))...))
			if err != nil {
				b.Error(err)
				return ""
			}
			_, err = io.Copy(io.Discard, r.Body)
			r.Body.Close()
			m.took(what, began)
			if err != nil || r.StatusCode != http.StatusOK {
				b.Errorf("%s: %d, %v", path, r.StatusCode, err)
			}
			return r.Request.URL.Path
		}
		for pb.Next() {
			switch n := rng.IntN(100); {
			case n < 4:
				post("match", "/match", "target", lamp, "client", client, "resin", "CLR", "max-pigments", "4")
			case n < 14:
				name := fmt.Sprintf("part %x", rng.Uint64()^uint64(time.Now().UnixNano()))
				post("write", "/target", "name", name, "client", client, "lab", "50,1,2", "illuminant", "D65/10")
				stored <- name
			case n < 54:
				get("slider", link("/mix/color", "resin", "CLR", "target", lamp, "client", client, "phr.WH", fmt.Sprintf("%.3f", 1+rng.Float64()), "phr.RD", fmt.Sprintf("%.3f", rng.Float64())), "dE00 from the target")
			default:
				path := []string{"/", "/shelf", "/chips?resin=CLR", "/calibration?resin=CLR", "/mix?resin=CLR", "/pours", "/archive", link("/target", "name", lamp, "client", client)}[rng.IntN(8)]
				get("page", path, "</main>")
			}
		}
	})
	b.StopTimer()
	close(stored)
	for name := range stored {
		if _, err := workbench.ShowTarget(b.Context(), bench, client, name); err != nil {
			b.Errorf("a target that was stored is not there: %v", err)
		}
	}
	person.Range(func(v, _ any) bool { v.(*visitor).client.CloseIdleConnections(); return true })
	runtime.GC()
	runtime.ReadMemStats(&memory)
	for _, what := range []string{"page", "slider", "match", "write"} {
		b.ReportMetric(m.p95(what), what+"-p95-ms")
	}
	b.ReportMetric((float64(memory.HeapAlloc)-float64(before))/(1<<20), "heap-MB")
}

// working reports what an operation takes of the processors, which a busy machine
// does not change.
func working(b *testing.B) func() {
	var before, after syscall.Rusage
	spent := func(u *syscall.Rusage) float64 {
		require.NoError(b, syscall.Getrusage(syscall.RUSAGE_SELF, u))
		return float64(u.Utime.Nano()+u.Stime.Nano()) / 1e6
	}
	from := spent(&before)
	return func() { b.ReportMetric((spent(&after)-from)/float64(b.N), "cpu-ms/op") }
}

// BenchmarkMatch is a match with 12 pigments of one person alone, BenchmarkSlider
// the colour of a mixture.
func BenchmarkMatch(b *testing.B) {
	site := served(b, twelvePigments(b))
	defer working(b)()
	for n := 0; b.Loop(); n++ {
		r, err := http.PostForm(site+"/match", values("target", lamp, "client", client, "resin", "CLR", "max-pigments", "4", "key", fmt.Sprint("k", n)))
		require.NoError(b, err)
		require.Equal(b, http.StatusOK, r.StatusCode)
		io.Copy(io.Discard, r.Body)
		r.Body.Close()
	}
}

func BenchmarkSlider(b *testing.B) {
	site := served(b, twelvePigments(b))
	defer working(b)()
	for n := 0; b.Loop(); n++ {
		r, err := http.Get(site + link("/mix/color", "resin", "CLR", "target", lamp, "client", client, "phr.WH", fmt.Sprintf("%.4f", 1+float64(n%1000)/1000), "phr.RD", "0.3"))
		require.NoError(b, err)
		require.Equal(b, http.StatusOK, r.StatusCode)
		io.Copy(io.Discard, r.Body)
		r.Body.Close()
	}
}
