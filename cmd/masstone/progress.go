package main

import (
	"sync"
	"time"

	"github.com/schollz/progressbar/v3"

	"masstone/recipes/workbench"
)

// quiet is how long work may take before progress is shown.
const quiet = time.Second

// A progress shows how far long work is, on a terminal only.
type progress struct {
	mu    sync.Mutex
	env   *Env
	begun time.Time
	bar   *progressbar.ProgressBar
	total int // of the bar
}

func (e *Env) progress() *progress { return &progress{env: e, begun: time.Now()} }

// show makes the bar once the work has taken a while; total -1 is work whose
// end is not known.
func (p *progress) show(total int) bool {
	if !p.env.Live || time.Since(p.begun) < quiet {
		return false
	}
	if p.bar == nil || total != p.total {
		p.total = total
		p.bar = progressbar.NewOptions(total, progressbar.OptionSetWriter(p.env.Stderr), progressbar.OptionClearOnFinish(),
			progressbar.OptionSetWidth(30), progressbar.OptionThrottle(100*time.Millisecond), progressbar.OptionShowElapsedTimeOnFinish())
	}
	return true
}

// hear shows what a verb tells of its progress.
func (p *progress) hear(now workbench.Progress) {
	if now.Total > 0 {
		p.count(now.Done, now.Total)
		return
	}
	p.step(now.Step)
}

// step names what is being done.
func (p *progress) step(text string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.show(-1) {
		p.bar.Describe(text)
		p.bar.Add(1)
	}
}

// count says how much of the whole is done.
func (p *progress) count(done, total int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.show(total) {
		p.bar.Set(done)
	}
}

// end takes the bar away.
func (p *progress) end() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.bar != nil {
		p.bar.Finish()
	}
}
