package page_test

import (
	"bytes"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"masstone/cmd/masstone/page"
	"masstone/recipes/workbench"
)

// A visitor is a browser without scripts: it reads pages, fills in the forms they
// have and follows where they lead.
type visitor struct {
	t      testing.TB
	site   *httptest.Server
	client *http.Client
	at     *url.URL
	status int
	page   *html.Node
	raw    string
}

// visit opens a bench to a visitor; nil options are those of this machine alone.
func visit(t testing.TB, b *workbench.Bench, options func(*page.Options)) *visitor {
	t.Helper()
	o := page.Options{Bench: b, Program: "masstone test", Who: "ada", Hosts: []string{"127.0.0.1"}, Log: t.Logf}
	if options != nil {
		options(&o)
	}
	s, err := page.New(o)
	require.NoError(t, err)
	site := httptest.NewServer(s)
	t.Cleanup(func() { site.Close(); s.Close() })
	return (&visitor{t: t, site: site}).another()
}

// another is a second browser at the same place.
func (v *visitor) another() *visitor {
	jar, err := cookiejar.New(nil)
	require.NoError(v.t, err)
	at, err := url.Parse(v.site.URL + "/")
	require.NoError(v.t, err)
	return &visitor{t: v.t, site: v.site, client: &http.Client{Jar: jar}, at: at}
}

func (v *visitor) took(r *http.Response, err error) *visitor {
	v.t.Helper()
	require.NoError(v.t, err)
	defer r.Body.Close()
	text, err := io.ReadAll(r.Body)
	require.NoError(v.t, err)
	v.at, v.status, v.raw = r.Request.URL, r.StatusCode, string(text)
	v.page, err = html.Parse(strings.NewReader(v.raw))
	require.NoError(v.t, err)
	return v
}

// open goes to a page.
func (v *visitor) open(path string) *visitor {
	v.t.Helper()
	return v.took(v.client.Get(v.site.URL + path))
}

// filled is a form of the page as it would be sent, with other values in the
// fields named, name and value in turn.
func (v *visitor) filled(action string, pairs ...string) (to string, values url.Values, form *html.Node) {
	v.t.Helper()
	form = find(v.page, func(n *html.Node) bool { return n.Data == "form" && attr(n, "action") == action })
	require.NotNil(v.t, form, "no form %s at %s:\n%s", action, v.at, v.text())
	values = url.Values{}
	var names []string
	walk(form, func(n *html.Node) {
		name := attr(n, "name")
		if name == "" {
			return
		}
		names = append(names, name)
		switch {
		case n.Data == "select":
			chosen := find(n, func(o *html.Node) bool { return o.Data == "option" && has(o, "selected") })
			if chosen == nil {
				chosen = find(n, func(o *html.Node) bool { return o.Data == "option" })
			}
			if chosen != nil {
				values.Add(name, attr(chosen, "value"))
			}
		case attr(n, "type") == "checkbox" && !has(n, "checked"), attr(n, "type") == "file":
		default:
			values.Add(name, attr(n, "value"))
		}
	})
	for i := 0; i < len(pairs); i += 2 {
		require.Contains(v.t, names, pairs[i], "form %s", action)
		values.Set(pairs[i], pairs[i+1])
	}
	return v.site.URL + action, values, form
}

// send fills a form in and sends it.
func (v *visitor) send(action string, pairs ...string) *visitor {
	v.t.Helper()
	to, values, form := v.filled(action, pairs...)
	switch {
	case attr(form, "method") == "get":
		return v.took(v.client.Get(to + "?" + values.Encode()))
	case attr(form, "enctype") == "multipart/form-data":
		kind, body := v.parts(form, values)
		return v.took(v.client.Post(to, kind, body))
	}
	return v.took(v.client.PostForm(to, values))
}

// parts is a form with files, whose values are their paths.
func (v *visitor) parts(form *html.Node, values url.Values) (kind string, body io.Reader) {
	var out bytes.Buffer
	w := multipart.NewWriter(&out)
	walk(form, func(n *html.Node) {
		name := attr(n, "name")
		if attr(n, "type") != "file" || !values.Has(name) {
			return
		}
		data, err := os.ReadFile(values.Get(name))
		require.NoError(v.t, err)
		part, err := w.CreateFormFile(name, filepath.Base(values.Get(name)))
		require.NoError(v.t, err)
		part.Write(data)
		values.Del(name)
	})
	for name, all := range values {
		for _, value := range all {
			w.WriteField(name, value)
		}
	}
	w.Close()
	return w.FormDataContentType(), &out
}

// text is what the main part of the page says.
func (v *visitor) text() string {
	main := find(v.page, func(n *html.Node) bool { return n.Data == "main" })
	if main == nil {
		return v.raw
	}
	return words(main)
}

// sees fails unless the page says every text.
func (v *visitor) sees(texts ...string) *visitor {
	v.t.Helper()
	for _, text := range texts {
		require.Contains(v.t, v.text(), text, "%d at %s", v.status, v.at)
	}
	return v
}

// wrongs are the lines in which the page says what is wrong.
func (v *visitor) wrongs() []string {
	var out []string
	walk(v.page, func(n *html.Node) {
		if strings.Contains(attr(n, "class"), "wrong") {
			for p := n.FirstChild; p != nil; p = p.NextSibling {
				if p.Data == "p" {
					out = append(out, strings.TrimSpace(words(p)))
				}
			}
		}
	})
	return out
}

// links are the addresses that the page leads to.
func (v *visitor) links() []string {
	var out []string
	walk(v.page, func(n *html.Node) {
		for _, name := range []string{"href", "src"} {
			if to := attr(n, name); to != "" && !strings.HasPrefix(to, "#") && !slices.Contains(out, to) {
				out = append(out, to)
			}
		}
	})
	return out
}

func walk(n *html.Node, do func(*html.Node)) {
	if n.Type == html.ElementNode {
		do(n)
	}
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		walk(c, do)
	}
}

func find(n *html.Node, is func(*html.Node) bool) (found *html.Node) {
	walk(n, func(x *html.Node) {
		if found == nil && is(x) {
			found = x
		}
	})
	return found
}

func has(n *html.Node, name string) bool {
	return slices.ContainsFunc(n.Attr, func(a html.Attribute) bool { return a.Key == name })
}

func attr(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

// words is the text below an element.
func words(n *html.Node) string {
	if n.Type == html.TextNode {
		return n.Data
	}
	var b strings.Builder
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		b.WriteString(words(c))
	}
	return b.String()
}

// lamp is the target of the invented shop.
const lamp, client = "Harbour lamp / housing", "Tern Lighting"

// worked is a bench file on which the job was done once.
var worked struct {
	once sync.Once
	data []byte
}

// workedBench is a bench on which the job was done once, by forms alone and
// without a script: chips taken in and fitted, a target matched, weighed, poured,
// read and approved. Every test gets a copy.
func workedBench(t testing.TB) *workbench.Bench {
	t.Helper()
	worked.once.Do(func() { worked.data = job(t) })
	require.NotEmpty(t, worked.data, "the job failed in another test")
	file := filepath.Join(t.TempDir(), "bench.db")
	require.NoError(t, os.WriteFile(file, worked.data, 0o600))
	b, err := workbench.Open(t.Context(), file, workbench.Options{Who: "ada", Program: "test"})
	require.NoError(t, err)
	t.Cleanup(func() { b.Close() })
	return b
}

func job(t testing.TB) []byte {
	b := emptyBench(t)
	v := visit(t, b, nil)
	v.open("/").sees("An empty bench")
	v.open("/shelf").send("/shelf/resin", "code", "CLR", "name", "clear casting urethane", "mix", "100:90", "density-a", "1.05", "density-b", "1.00", "pot-life", "7m", "max-phr", "4").sees("100:90")
	v.send("/shelf/pigments", "file", shopFile(t, "pigments.csv")).sees("kelp green")
	v.send("/shelf/lot", "code", "FG", "lot", "K-2207", "open", "yes").sees("in use")
	v.open("/file").send("/file", "file", shopFile(t, "chips.csv")).sees("Would be stored in CLR")
	v.send(strings.TrimSuffix(v.at.Path, "/")+"/chips").sees("WH-2", "28 chips")
	v.open("/calibration?resin=CLR").send("/fit", "layer", "exact") // by which the shop was made
	v.ends().sees("CLR v1", "inside their 95 % region", "law of mixing")
	v.open("/targets").send("/target", "name", lamp, "client", client, "file", shopFile(t, "lamp.csv")).sees("66.4")
	v.open(link("/match", "target", lamp, "client", client)).send("/match", "max-pigments", "3").sees("chance within tolerance", "R1")
	v.open("/recipe/R1").send("/batch", "grams", "250").sees("the scale goes to")
	for !strings.Contains(v.text(), "All is in") {
		in := find(v.page, func(n *html.Node) bool { return n.Data == "button" && words(n) == "It is in as planned" }).Parent
		var state []string
		walk(in, func(n *html.Node) {
			if name := attr(n, "name"); name != "" {
				state = append(state, name, attr(n, "value"))
			}
		})
		v.open(link(attr(in, "action"), state...))
	}
	v.send("/pour", "room", "21").sees("Not read yet")
	v.send("/pour/P1/read", "lab", "66.3,-10.3,-2.5", "illuminant", "D65/10").sees("CIEDE2000", "Within tolerance")
	v.send("/approve", "by", "J. Brandt").sees("J. Brandt", "checksum")
	copied := filepath.Join(t.TempDir(), "copy.db")
	_, err := workbench.Backup(t.Context(), b, copied)
	require.NoError(t, err)
	data, err := os.ReadFile(copied)
	require.NoError(t, err)
	return data
}

// link is a path with a query.
func link(base string, pairs ...string) string { return base + "?" + values(pairs...).Encode() }

// values are names and values in turn.
func values(pairs ...string) url.Values {
	q := url.Values{}
	for i := 0; i < len(pairs); i += 2 {
		q.Set(pairs[i], pairs[i+1])
	}
	return q
}

// ends looks again until what goes on in the background has ended.
func (v *visitor) ends() *visitor {
	v.t.Helper()
	for strings.HasPrefix(v.at.Path, "/work/") && v.status == http.StatusOK {
		time.Sleep(50 * time.Millisecond)
		v.open(v.at.Path)
	}
	return v
}
