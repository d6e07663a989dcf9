//go:build unix

package page_test

import (
	"bufio"
	"context"
	crand "crypto/rand"
	"fmt"
	"io"
	"maps"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
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
	_, err = workbench.Match(b.Context(), bench, workbench.MatchRequest{Target: lamp, Client: client, Resin: "CLR", Limits: workbench.Limits{MaxPigments: 4, Recipes: 5, BatchGrams: 100, ScaleGrams: 0.01}})
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

// p95 is what 95 of 100 took no longer than, in milliseconds, of all kinds whose
// name begins so.
func (m *measured) p95(what string) float64 {
	m.mu.Lock()
	defer m.mu.Unlock()
	var all []time.Duration
	for name, times := range m.of {
		if strings.HasPrefix(name, what) {
			all = append(all, times...)
		}
	}
	if len(all) == 0 {
		return 0
	}
	slices.Sort(all)
	return float64(all[len(all)*95/100]) / float64(time.Millisecond)
}

// How people at the bench go about it. Between two things each reads or thinks for
// a time that is random, on average that long. Of a hundred things a person does
// so many are these, and the rest is to open a page; a slider that is dragged asks
// so often, a question as soon as the one before is answered and the next move of
// the finger is there. What others store is shown anew on the page that a person
// has open, as the script of pages has it.
const (
	thinks  = 2 * time.Second
	matches = 5
	stores  = 10
	drags   = 20
	asks    = 12
	finger  = 60 * time.Millisecond
)

// looked are the pages that people look at.
func looked() []string {
	of := []string{"target", lamp, "client", client}
	return []string{"/", "/shelf", "/chips?resin=CLR", "/calibration?resin=CLR", "/mix?resin=CLR", "/plan", "/targets", "/pours", "/archive", "/log", "/resin?code=CLR", "/pigment?code=WH",
		link("/target", "name", lamp, "client", client), link("/match", of...), link("/mix", append(of, "resin", "CLR", "phr.WH", "1")...), "/recipe/R1"}
}

// A person of the load has a browser of their own.
type laborer struct {
	testing.TB
	site   string
	m      *measured
	rng    *rand.Rand
	client *http.Client
	stored []string
	at     atomic.Value // the page that is open
}

// get asks for a page and checks that it is whole.
func (p *laborer) get(what, path, holds string) (text string) {
	began := time.Now()
	r, err := p.client.Get(p.site + path)
	if err != nil {
		p.Error(err)
		return ""
	}
	all, err := io.ReadAll(r.Body)
	r.Body.Close()
	p.m.took(what, began)
	if err != nil || r.StatusCode != http.StatusOK || !strings.Contains(string(all), holds) {
		p.Errorf("%s: %d, %v, no %q", path, r.StatusCode, err, holds)
	}
	return string(all)
}

// post sends a form, and reads the page it leads to.
func (p *laborer) post(what, path string, pairs ...string) {
	began := time.Now()
	r, err := p.client.PostForm(p.site+path, values(append(pairs, "key", crand.Text())...))
	if err != nil {
		p.Error(err)
		return
	}
	_, err = io.Copy(io.Discard, r.Body)
	r.Body.Close()
	p.m.took(what, began)
	if err != nil || r.StatusCode != http.StatusOK {
		p.Errorf("%s: %d, %v", path, r.StatusCode, err)
	}
	p.at.Store(r.Request.URL.RequestURI())
}

// act does one thing.
func (p *laborer) act() {
	switch n := p.rng.IntN(100); {
	case n < matches:
		p.post("match", "/match", "target", lamp, "client", client, "resin", "CLR", "max-pigments", "4")
	case n < matches+stores:
		name := "part " + crand.Text()
		p.post("write", "/target", "name", name, "client", client, "lab", fmt.Sprintf("%.2f,1,2", 30+50*p.rng.Float64()), "illuminant", "D65/10")
		p.stored = append(p.stored, name)
	case n < matches+stores+drags:
		white := 1 + p.rng.Float64()
		for range asks {
			p.get("slider", link("/mix/color", "resin", "CLR", "target", lamp, "client", client, "phr.WH", fmt.Sprintf("%.3f", white)), "dE00 from the target")
			white += 0.01
			time.Sleep(finger)
		}
	default:
		all := looked()
		path := all[p.rng.IntN(len(all))]
		p.get("page "+path, path, "</main>")
		p.at.Store(path)
	}
}

// listen has the page that is open told what others store, and shown anew.
func (p *laborer) listen(ctx context.Context) {
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, p.site+"/changes?after=0", nil)
	if err != nil {
		p.Error(err)
		return
	}
	answer, err := p.client.Do(r)
	if err != nil {
		if ctx.Err() == nil {
			p.Error(err)
		}
		return
	}
	defer answer.Body.Close()
	told := make(chan bool, 1)
	var shown sync.WaitGroup
	defer shown.Wait()
	defer close(told)
	shown.Go(func() {
		for range told {
			time.Sleep(time.Duration(rand.Int64N(int64(spread))))
			if path, is := p.at.Load().(string); is && ctx.Err() == nil {
				p.get("page again", path, "</main>")
			}
		}
	})
	for lines := bufio.NewScanner(answer.Body); lines.Scan(); {
		if strings.HasPrefix(lines.Text(), "data:") {
			select {
			case told <- true:
			default: // it is about to be shown anyway
			}
		}
	}
}

// spread is the time within which the pages that are open are shown anew after a
// change, as asset/page.js has it.
const spread = 500 * time.Millisecond

// BenchmarkTwentyPeople has twenty people at one bench of 12 pigments, each of whom
// does ten things. With -benchtime 60s it is the study of the figures: every answer
// must be right, every write kept, and nothing of it stay in memory.
func BenchmarkTwentyPeople(b *testing.B) {
	bench := twelvePigments(b)
	site := served(b, bench)
	m := measured{of: map[string][]time.Duration{}}
	done := working(b)
	twenty(b, bench, site, &m, 200*b.N, thinks)
	done()
	for _, what := range []string{"page", "slider", "match", "write"} {
		b.ReportMetric(m.p95(what), what+"-p95-ms")
	}
	if testing.Verbose() {
		for _, what := range slices.Sorted(maps.Keys(m.of)) {
			b.Logf("p95 %7.1f ms of %5d: %s", m.p95(what), len(m.of[what]), what)
		}
	}
}

// twenty has twenty people do so many things together, and checks that all they
// stored is there.
func twenty(b testing.TB, bench *workbench.Bench, site string, m *measured, things int, think time.Duration) {
	heap := func() float64 {
		var memory runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&memory)
		return float64(memory.HeapAlloc) / (1 << 20)
	}
	ctx, stop := context.WithCancel(b.Context())
	defer stop()
	var people []*laborer
	var working, listening sync.WaitGroup
	todo := make(chan bool, things)
	for range things {
		todo <- true
	}
	close(todo)
	before := heap()
	for n := range uint64(20) {
		p := &laborer{TB: b, site: site, m: m, rng: rand.New(rand.NewPCG(n, 2)), client: &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: 2}}}
		people = append(people, p)
		p.at.Store("/")
		listening.Go(func() { p.listen(ctx) })
		working.Go(func() {
			for range todo {
				time.Sleep(time.Duration(p.rng.ExpFloat64() * float64(think)))
				p.act()
			}
		})
	}
	working.Wait()
	stop()
	listening.Wait()
	for _, p := range people {
		p.client.CloseIdleConnections()
		for _, name := range p.stored {
			_, err := workbench.ShowTarget(b.Context(), bench, client, name)
			require.NoError(b, err, "a target that was stored is not there")
		}
	}
	if b, is := b.(*testing.B); is {
		b.ReportMetric(heap()-before, "heap-MB")
	}
}

// TestTwentyPeople is a short hour of twenty people at one bench: no error comes
// and nothing that was stored is lost. How long it takes is not asked.
func TestTwentyPeople(t *testing.T) {
	b := workedBench(t)
	twenty(t, b, served(t, b), &measured{of: map[string][]time.Duration{}}, 60, 10*time.Millisecond)
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
