package page_test

import (
	"context"
	"flag"
	"fmt"
	"io/fs"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/cmd/masstone/demo"
	"masstone/cmd/masstone/page"
	"masstone/recipes/workbench"
)

var screens = flag.String("screens", "", "folder that pictures of every page go to")

// chromium is Debian's.
const chromium = "/usr/bin/chromium"

// patience ends what hangs; a machine that is busy takes as long as it takes.
const patience = 20 * time.Minute

// served serves a bench as the command does.
func served(t testing.TB, b *workbench.Bench) string {
	t.Helper()
	s, err := page.New(page.Options{Bench: b, Program: "masstone test", Who: "ada", Hosts: []string{"127.0.0.1"}, Log: t.Logf})
	require.NoError(t, err)
	on, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(ctx, on) }()
	t.Cleanup(func() {
		stop()
		if err := <-ended; err != nil && err != http.ErrServerClosed {
			t.Errorf("the server stopped with %v", err)
		}
	})
	return "http://" + on.Addr().String()
}

// emptyBench is a bench file just made.
func emptyBench(t testing.TB) *workbench.Bench {
	t.Helper()
	b, err := workbench.Create(t.Context(), filepath.Join(t.TempDir(), "bench.db"), workbench.Options{Who: "ada", Program: "test"})
	require.NoError(t, err)
	t.Cleanup(func() { b.Close() })
	return b
}

// shopFile lays a file of the invented shop out.
func shopFile(t testing.TB, name string) string {
	t.Helper()
	data, err := fs.ReadFile(demo.Shop(), name)
	require.NoError(t, err)
	file := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(file, data, 0o600))
	return file
}

// A person is somebody at a window of the browser, with cookies of their own.
type person struct {
	t    testing.TB
	ctx  context.Context
	site string
}

// browser is the one that all tests share, and how to end it.
var browser struct {
	sync.Mutex
	ctx  context.Context
	stop []context.CancelFunc
}

func TestMain(m *testing.M) {
	code := m.Run()
	for _, stop := range browser.stop {
		stop()
	}
	os.Exit(code)
}

// browse opens a window of the browser, or skips the test where there is none.
func browse(t testing.TB, site string) *person {
	t.Helper()
	if testing.Short() {
		t.Skip("takes seconds")
	}
	if _, err := os.Stat(chromium); err != nil {
		t.Skip("chromium is not here; install Debian's package")
	}
	browser.Lock()
	defer browser.Unlock()
	if browser.ctx == nil {
		options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(chromium), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.WSURLReadTimeout(patience))
		allocator, stop := chromedp.NewExecAllocator(context.Background(), options...)
		ctx, end := chromedp.NewContext(allocator)
		browser.stop = []context.CancelFunc{end, stop}
		require.NoError(t, chromedp.Do(ctx))
		browser.ctx = ctx
	}
	return (&person{t, browser.ctx, site}).another()
}

// another is somebody else.
func (p *person) another() *person {
	p.t.Helper()
	ctx, stop := chromedp.NewContext(browser.ctx, chromedp.WithNewBrowserContext())
	p.t.Cleanup(stop)
	require.NoError(p.t, chromedp.Do(ctx, chromedp.EmulateViewport(1280, 900)))
	return &person{p.t, ctx, p.site}
}

func (p *person) do(steps ...chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	ctx, stop := context.WithTimeout(p.ctx, patience)
	defer stop()
	if err := chromedp.Do(ctx, steps...); err != nil {
		p.t.Fatalf("%v, at %s:\n%s", err, p.where(), p.text("main"))
	}
}

func ask[T any](p *person, script string) T {
	p.t.Helper()
	v, err := chromedp.Run(p.ctx, chromedp.Evaluate[T](script))
	require.NoError(p.t, err, script)
	return v
}

func (p *person) where() string {
	v, _ := chromedp.Run(p.ctx, chromedp.Evaluate[string](`location.pathname + location.search`))
	return v
}

// text is what a part of the page says.
func (p *person) text(selector string) string {
	v, _ := chromedp.Run(p.ctx, chromedp.Evaluate[string](fmt.Sprintf(`(document.querySelector(%q) || {innerText: ""}).innerText`, selector)))
	return v
}

// open goes to a page.
func (p *person) open(path string) {
	p.t.Helper()
	p.do(chromedp.Navigate(p.site+path), chromedp.WaitReady("body"))
}

// fill types into the fields of a form, name and value in turn.
func (p *person) fill(action string, pairs ...string) {
	p.t.Helper()
	for i := 0; i < len(pairs); i += 2 {
		at := fmt.Sprintf(`form[action=%q] [name=%q]`, action, pairs[i])
		ask[bool](p, fmt.Sprintf(`(() => { for (let d = document.querySelector(%q).closest("details"); d; d = d.parentElement.closest("details")) if (!d.open) d.querySelector("summary").click(); return true })()`, at))
		switch kind := ask[string](p, fmt.Sprintf(`document.querySelector(%q).type`, at)); kind {
		case "file":
			p.do(chromedp.SetUploadFiles(at, []string{pairs[i+1]}))
		case "checkbox":
			p.do(chromedp.Click(at))
		case "select-one":
			p.do(chromedp.Focus(at), chromedp.KeyEvent(pairs[i+1])) // as far as the choice is told by it
			require.Equal(p.t, pairs[i+1], ask[string](p, fmt.Sprintf(`document.querySelector(%q).value`, at)))
		default:
			p.keys(at, pairs[i+1])
		}
	}
}

// keys types in the place of what stands in a field.
func (p *person) keys(at, text string) {
	p.t.Helper()
	ask[bool](p, fmt.Sprintf(`(() => { const e = document.querySelector(%q); e.focus(); e.select(); return true })()`, at))
	p.do(chromedp.SendKeys(at, text))
}

// follow clicks the first link that says a text.
func (p *person) follow(text string) {
	p.t.Helper()
	ask[bool](p, `(() => { for (const a of document.querySelectorAll("[data-followed]")) delete a.dataset.followed; return true })()`)
	require.True(p.t, ask[bool](p, fmt.Sprintf(`(() => { const a = [...document.links].find(a => a.innerText.trim() === %q); if (a) a.dataset.followed = "1"; return a !== undefined })()`, text)), "no link says %q at %s:\n%s", text, p.where(), p.text("body"))
	p.press("[data-followed]")
}

// send presses the button of a form and waits for the next page.
func (p *person) send(action string) {
	p.t.Helper()
	p.press(fmt.Sprintf(`form[action=%q] .do button`, action))
}

// press clicks what leads to another page, and waits for it.
func (p *person) press(selector string) {
	p.t.Helper()
	ask[bool](p, `window.before = true`)
	p.do(chromedp.Click(selector))
	p.until("window.before !== true && document.readyState === 'complete'")
}

// until waits until the page says yes.
func (p *person) until(script string) {
	p.t.Helper()
	for end := time.Now().Add(patience); ; time.Sleep(50 * time.Millisecond) {
		v, err := chromedp.Run(p.ctx, chromedp.Evaluate[bool](script))
		if err == nil && v {
			return
		}
		if time.Now().After(end) {
			p.t.Fatalf("never so: %s (%v), at %s:\n%s", script, err, p.where(), p.text("main"))
		}
	}
}

// sees fails unless the page says a text.
func (p *person) sees(texts ...string) {
	p.t.Helper()
	main := p.text("main")
	for _, text := range texts {
		if !strings.Contains(main, text) {
			p.t.Fatalf("no %q at %s:\n%s", text, p.where(), main)
		}
	}
}

// overflow is by how many pixels a page runs out of the window, and what does.
const overflow = `(() => {
	const width = document.documentElement.clientWidth
	let worst = document.documentElement.scrollWidth - width, which = "page"
	for (const e of document.body.querySelectorAll("*")) {
		if (e.closest(".scroll, .skip, svg, details:not([open]) > :not(summary)")) continue
		const over = e.getBoundingClientRect().right - width
		if (over > worst) { worst = over; which = e.outerHTML.slice(0, 160) }
	}
	return [worst, which]
})()`

// unlabelled are what a person who hears the page could not tell: fields without
// a label, pictures without words, ids that two things have.
const unlabelled = `(() => {
	const wrong = []
	for (const e of document.querySelectorAll("input:not([type=hidden]), select, textarea")) if (!e.labels.length && !e.ariaLabel) wrong.push("no label: " + e.outerHTML.slice(0, 120))
	for (const e of document.querySelectorAll("img:not([alt]), svg[role=img]:not([aria-label])")) wrong.push("no words: " + e.outerHTML.slice(0, 120))
	for (const e of document.querySelectorAll("button, a")) if (!e.innerText.trim() && !e.ariaLabel && e.checkVisibility()) wrong.push("no name: " + e.outerHTML.slice(0, 120))
	const ids = new Set()
	for (const e of document.querySelectorAll("[id]")) { if (ids.has(e.id)) wrong.push("two of " + e.id); ids.add(e.id) }
	if (document.querySelectorAll("h1").length !== 1) wrong.push("not one h1")
	return wrong
})()`

// faint is text that stands out too little from what is behind it: less than
// 4.5 : 1, WCAG 2.2, 1.4.3.
const faint = `(() => {
	const light = c => { const [r, g, b] = c.match(/[\d.]+/g).map(v => v / 255).map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4); return 0.2126 * r + 0.7152 * g + 0.0722 * b }
	const behind = e => { for (; e; e = e.parentElement) { const c = getComputedStyle(e).backgroundColor; if (!/, 0\)$/.test(c) && c !== "transparent") return c } return "rgb(255, 255, 255)" }
	const wrong = []
	for (const e of document.body.querySelectorAll("*")) {
		if (e.closest("svg") || !e.checkVisibility() || ![...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim())) continue
		const a = light(getComputedStyle(e).color), b = light(behind(e))
		const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05)
		if (ratio < 4.5) wrong.push(ratio.toFixed(1) + ": " + e.outerHTML.slice(0, 120))
	}
	return wrong
})()`

// small are the targets on a page that are hard to hit with a gloved finger.
const small = `[...document.querySelectorAll("main button, main .button, main input:not([type=hidden]):not([type=checkbox]):not([type=range]), main select, header a:not(.skip), header button, summary")].filter(e => e.checkVisibility() && e.getBoundingClientRect().height < 47.5).map(e => e.outerHTML.slice(0, 120))`

// looks checks a page on a phone, a tablet and a desktop, light and dark, folded and
// unfolded. Of a width and a scheme each is looked at once, since neither changes
// what the other does; where pictures are taken every one of both, with all rules of
// axe-core.
func (p *person) looks(name string) {
	p.t.Helper()
	require.NotContains(p.t, p.text("main"), "%!", "%s: a verb of fmt gone wrong", name)
	for _, at := range []struct {
		width  int64
		scheme string
		check  []string // scripts that find faults
		rules  bool     // of axe-core, with any run
	}{
		{360, "light", []string{small, faint, unlabelled}, true},
		{820, "light", []string{small}, false},
		{1280, "dark", []string{small, faint}, false},
		{1280, "light", nil, false}, {820, "dark", nil, false}, {360, "dark", nil, false},
	} {
		if at.check == nil && *screens == "" {
			continue
		}
		what := fmt.Sprintf("%s-%d-%s", name, at.width, at.scheme)
		_, err := chromedp.Call(p.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: at.scheme}}})
		require.NoError(p.t, err)
		p.do(chromedp.EmulateViewport(at.width, 900))
		p.picture(what)
		folded := ask[int](p, `(() => { window.folded = [...document.querySelectorAll("details:not([open])")]; for (const d of folded) d.open = true; return folded.length })()`)
		over := ask[[]any](p, overflow)
		require.LessOrEqual(p.t, over[0], 1.0, "%s: %v", what, over[1])
		for _, script := range at.check {
			assert.Empty(p.t, ask[[]string](p, script), what)
		}
		if at.rules || *screens != "" {
			p.obeys(what)
		}
		if folded > 0 && at.scheme == "light" {
			p.picture(what + "-unfolded")
		}
		ask[bool](p, `(() => { for (const d of folded) d.open = false; return true })()`)
	}
}

func (p *person) picture(name string) {
	if *screens == "" {
		return
	}
	require.NoError(p.t, os.MkdirAll(*screens, 0o777))
	whole := chromedp.FullScreenshot(100)
	if name == "readme" {
		whole = chromedp.CaptureScreenshot()
	}
	shot, err := chromedp.Run(p.ctx, whole)
	require.NoError(p.t, err)
	require.NoError(p.t, os.WriteFile(filepath.Join(*screens, name+".png"), shot, 0o666))
}
