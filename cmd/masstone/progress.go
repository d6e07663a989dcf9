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
	heard workbench.Progress // last
	wait  *time.Timer        // what was heard before is shown then, or one long step would look like none
	bar   *progressbar.ProgressBar
	total int // of the bar
}

func (e *Env) progress() *progress { return &progress{env: e, begun: time.Now()} }

// hear shows what a verb tells of its progress, once the work has taken a while.
func (p *progress) hear(now workbench.Progress) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.heard = now
	switch left := quiet - time.Since(p.begun); {
	case !p.env.Live:
	case left <= 0:
		p.show()
	case p.wait == nil:
		p.wait = time.AfterFunc(left, func() {
			p.mu.Lock()
			defer p.mu.Unlock()
			if p.wait != nil {
				p.show()
			}
		})
	}
}

// show draws what was heard last; work whose end is not known has a total of -1.
func (p *progress) show() {
	total := p.heard.Total
	if total <= 0 {
		total = -1
	}
	if p.bar == nil || total != p.total {
		p.clear()
		p.total = total
		p.bar = progressbar.NewOptions(total, progressbar.OptionSetWriter(p.env.Stderr), progressbar.OptionClearOnFinish(),
			progressbar.OptionSetWidth(30), progressbar.OptionThrottle(100*time.Millisecond), progressbar.OptionShowElapsedTimeOnFinish())
	}
	if total > 0 {
		p.bar.Set(p.heard.Done)
		return
	}
	p.bar.Describe(p.heard.Step)
	p.bar.Add(1)
}

// end takes the bar away.
func (p *progress) end() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.wait != nil {
		p.wait.Stop()
		p.wait = nil
	}
	p.clear()
}

func (p *progress) clear() {
	if p.bar != nil {
		p.bar.Finish()
	}
}
