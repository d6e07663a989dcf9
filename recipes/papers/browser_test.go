package papers_test

import (
	"bytes"
	"context"
	"image"
	_ "image/png"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/ledongthuc/pdf"
	"github.com/stretchr/testify/require"

	"masstone/recipes/papers"
)

// chromium is Debian's.
const chromium = "/usr/bin/chromium"

// patience ends what hangs; a machine that is busy takes as long as it takes.
const patience = 20 * time.Minute

// overflow is by how many pixels the page or any piece of it runs out of the
// window, or a text out of its cell, and which. Tables on a small screen scroll
// within their section.
const overflow = `(() => {
	const width = document.documentElement.clientWidth
	let worst = document.documentElement.scrollWidth - width, which = 'page'
	const see = (over, e) => { if (over > worst) { worst = over; which = e.outerHTML.slice(0, 200) } }
	for (const e of document.body.querySelectorAll('*')) {
		const rows = e.closest('.rows')
		if (!rows || rows.scrollWidth <= rows.clientWidth || matchMedia('print').matches) see(e.getBoundingClientRect().right - width, e)
		if (e.matches('td, dd, li, h1, .about')) see(e.scrollWidth - e.clientWidth, e)
	}
	return [worst, which]
})()`

// TestBrowser opens every page in a browser: nothing is asked of the network,
// no script runs, nothing runs out of the page on screen or paper, and it
// prints on the paper it is made for.
func TestBrowser(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	if _, err := os.Stat(chromium); err != nil {
		t.Skip("chromium is not here; install Debian's package")
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(chromium), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.WSURLReadTimeout(patience))
	ctx, stop := chromedp.NewExecAllocator(t.Context(), options...)
	defer stop()
	ctx, stop = chromedp.NewContext(ctx)
	defer stop()

	var mu sync.Mutex
	var asked, dialogs []string
	require.NoError(t, chromedp.Listen(ctx, func(event any) {
		mu.Lock()
		defer mu.Unlock()
		switch e := event.(type) {
		case *network.EventRequestWillBeSent:
			asked = append(asked, e.Request.URL)
		case *page.EventJavascriptDialogOpening:
			dialogs = append(dialogs, e.Message)
		}
	}))
	limited, stop := context.WithTimeout(ctx, patience)
	defer stop()
	ctx = limited
	_, err := chromedp.Call(ctx, network.Enable, network.EnableParams{})
	require.NoError(t, err)
	fits := func(name string, width int64, medium string) {
		_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: medium})
		require.NoError(t, err, name)
		require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(width, 1000)), name)
		over, err := chromedp.Run(ctx, chromedp.Evaluate[[]any](overflow))
		require.NoError(t, err, name)
		require.LessOrEqual(t, over[0], 1.0, "%s on %s at %d px: %v", name, medium, width, over[1])
	}
	dir := t.TempDir()
	for _, s := range samples(t) {
		for _, size := range []papers.Size{papers.A4, papers.Letter} {
			name := s.name + "." + string(size) + ".html"
			path := filepath.Join(dir, name)
			require.NoError(t, os.WriteFile(path, write(t, s.paper, papers.HTML, papers.Options{Size: size}), 0o600))
			address := (&url.URL{Scheme: "file", Path: path}).String()
			mu.Lock()
			asked, dialogs = nil, nil
			mu.Unlock()
			require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(address)), name)
			scripts, err := chromedp.Run(ctx, chromedp.Evaluate[int](`document.scripts.length`))
			require.NoError(t, err, name)
			require.Zero(t, scripts, name)
			// the sheet, and the sheet less its margins, at 96 dots per inch
			sheet, inner := int64(794), int64(673)
			if size == papers.Letter {
				sheet, inner = 816, 696
			}
			labels := strings.HasPrefix(s.name, "labels")
			if labels {
				fits(name, sheet, "print")
			} else {
				fits(name, inner, "print")
				fits(name, sheet, "screen")
				fits(name, 390, "screen") // a telephone
			}
			printed, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPreferCSSPageSize()))
			require.NoError(t, err, name)
			r, box := openPDF(t, printed), pdf.Value{}
			if box = r.Page(1).V.Key("MediaBox"); box.IsNull() {
				box = r.Page(1).V.Key("Parent").Key("MediaBox")
			}
			require.InDelta(t, map[papers.Size]float64{papers.A4: 595.3, papers.Letter: 612}[size], box.Index(2).Float64(), 1, name)
			ours := openPDF(t, write(t, s.paper, papers.PDF, papers.Options{Size: size})).NumPage()
			if labels {
				require.Equal(t, ours, r.NumPage(), name)
			} else {
				require.InDelta(t, ours, r.NumPage(), 1, name)
			}
			mu.Lock()
			require.Equal(t, []string{address}, asked, name)
			require.Empty(t, dialogs, name)
			mu.Unlock()
		}
	}

	// and the code is read off the screen
	require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(900, 1300, chromedp.EmulateScale(2)), chromedp.Navigate("file://"+filepath.Join(dir, "batch.A4.html"))))
	shot, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
	require.NoError(t, err)
	img, _, err := image.Decode(bytes.NewReader(shot))
	require.NoError(t, err)
	require.Equal(t, "masstone:batch/B7", readCode(t, img))
}
