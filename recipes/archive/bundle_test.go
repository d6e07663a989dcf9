package archive

import (
	"bytes"
	"context"
	"io"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func exported(t testing.TB, b *Bench) []byte {
	t.Helper()
	var out bytes.Buffer
	n, err := b.Export(ctx(t), &out)
	require.NoError(t, err)
	require.Equal(t, n+2, bytes.Count(out.Bytes(), []byte("\n")))
	return out.Bytes()
}

func checksum(t testing.TB, b *Bench) string {
	t.Helper()
	sum, err := b.Checksum(ctx(t))
	require.NoError(t, err)
	return sum
}

func TestBundleCarriesABench(t *testing.T) {
	from, to := fullBench(t), newBench(t)
	bundle := exported(t, from)
	got, err := to.Import(ctx(t), bytes.NewReader(bundle), RefuseConflicts)
	require.NoError(t, err)
	assert.Equal(t, 1, got.Added["recipe"])
	assert.Equal(t, 2, got.Unchanged, "the two backings of a new bench")
	assert.Empty(t, got.Numbered)
	assert.Equal(t, checksum(t, from), checksum(t, to))
	assert.Equal(t, string(bundle), string(exported(t, to)))
	verified(t, to)
	lines, err := to.Log(ctx(t), LogFilter{})
	require.NoError(t, err)
	require.Len(t, lines, 1)

	// A second time changes nothing, under any rule.
	for _, on := range []OnConflict{RefuseConflicts, KeepMine, TakeTheirs} {
		got, err = to.Import(ctx(t), bytes.NewReader(bundle), on)
		require.NoError(t, err)
		assert.Empty(t, got.Added)
		assert.Empty(t, got.Changed)
	}
	lines, err = to.Log(ctx(t), LogFilter{})
	require.NoError(t, err)
	assert.Len(t, lines, 1)
	assert.Equal(t, checksum(t, from), checksum(t, to))
}

func TestBundleOfAClientOrRecipe(t *testing.T) {
	b := fullBench(t)
	blue := housing()
	blue.Client, blue.Part, blue.Name = "Gull Boats", "", "cleat"
	_, err := b.PutTarget(ctx(t), blue, Refuse)
	require.NoError(t, err)
	_, err = b.AddRecipes(ctx(t), Recipe{Resin: "CLR", Target: "cleat", Loadings: map[string]float64{"YE": 1}})
	require.NoError(t, err)
	_, err = b.ImportPigments(ctx(t), []Pigment{{Code: "UB"}}) // in no recipe
	require.NoError(t, err)

	for name, export := range map[string]func(context.Context, io.Writer) (int, error){
		"client": func(ctx context.Context, w io.Writer) (int, error) { return b.ExportClient(ctx, w, "Tern Lighting") },
		"recipe": func(ctx context.Context, w io.Writer) (int, error) { return b.ExportRecipe(ctx, w, "R1") },
	} {
		t.Run(name, func(t *testing.T) {
			var out bytes.Buffer
			_, err := export(ctx(t), &out)
			require.NoError(t, err)
			to := newBench(t)
			_, err = to.Import(ctx(t), &out, RefuseConflicts) // refused if it lacked anything
			require.NoError(t, err)
			verified(t, to)
			clients, err := to.Clients(ctx(t))
			require.NoError(t, err)
			require.Len(t, clients, 1)
			assert.Equal(t, "Łódź, käme", clients[0].Note)
			pigments, err := to.Pigments(ctx(t))
			require.NoError(t, err)
			var codes []string
			for _, p := range pigments {
				codes = append(codes, p.Code)
			}
			assert.Equal(t, []string{"RD", "WH"}, codes)
			a, err := to.Approval(ctx(t), "", "Harbour lamp / housing", 0)
			require.NoError(t, err)
			assert.Equal(t, 2, a.Version)
			pours, err := to.Pours(ctx(t), "", "Harbour lamp / housing")
			require.NoError(t, err)
			assert.Len(t, pours, 2)
			level, err := to.StockLevel(ctx(t), "pail 1")
			require.NoError(t, err)
			assert.Len(t, level.Moves, 2)
		})
	}
	var out bytes.Buffer
	_, err = b.ExportClient(ctx(t), &out, "Tern")
	require.ErrorIs(t, err, ErrNotFound)
	_, err = b.ExportRecipe(ctx(t), &out, "R9")
	require.ErrorIs(t, err, ErrNotFound)
}

// Facts keep their Ref and get the next number.
func TestImportNumbersAnew(t *testing.T) {
	from, to := fullBench(t), newBench(t)
	_, err := to.PutResin(ctx(t), clear100(), Refuse)
	require.NoError(t, err)
	_, err = to.ImportPigments(ctx(t), threePigments())
	require.NoError(t, err)
	mine, err := to.AddRecipes(ctx(t), Recipe{Resin: "CLR", Loadings: map[string]float64{"YE": 1}})
	require.NoError(t, err)
	got, err := to.Import(ctx(t), bytes.NewReader(exported(t, from)), RefuseConflicts)
	require.NoError(t, err)
	assert.Equal(t, []string{"recipe R1 is R2 here"}, got.Numbered)
	theirs, err := from.Recipe(ctx(t), "R1")
	require.NoError(t, err)
	here, err := to.Recipe(ctx(t), "R2")
	require.NoError(t, err)
	assert.Equal(t, theirs.Ref, here.Ref)
	still, err := to.Recipe(ctx(t), "R1")
	require.NoError(t, err)
	assert.Equal(t, mine[0], still)
	verified(t, to)
}

func TestImportNeverMergesTwoThings(t *testing.T) {
	ours, theirs := newBench(t), newBench(t)
	theirs.options.Who = "bo"
	red := func(price float64) []Pigment { return []Pigment{{Code: "RD", CIName: "PR254", PricePerKG: price}} }
	put := func(b *Bench, p []Pigment) {
		_, err := b.ImportPigments(ctx(t), p)
		require.NoError(t, err)
	}
	price := func(b *Bench) float64 {
		p, err := b.Pigment(ctx(t), "RD")
		require.NoError(t, err)
		return p.PricePerKG
	}
	put(ours, red(60))
	put(theirs, red(55))
	bundle := exported(t, theirs)
	before := checksum(t, ours)
	_, err := ours.Import(ctx(t), bytes.NewReader(bundle), RefuseConflicts)
	require.ErrorIs(t, err, ErrConflict)
	assert.EqualError(t, err, `bundle: differs from what the bench holds: pigment "RD" (price_per_kg); say whether to keep yours or take theirs; nothing was imported`)
	assert.Equal(t, before, checksum(t, ours))

	mine, other := cloned(t, ours), cloned(t, ours)
	got, err := mine.Import(ctx(t), bytes.NewReader(bundle), KeepMine)
	require.NoError(t, err)
	assert.Empty(t, got.Changed)
	assert.Equal(t, 60.0, price(mine))
	got, err = other.Import(ctx(t), bytes.NewReader(bundle), TakeTheirs)
	require.NoError(t, err)
	assert.Equal(t, []string{`pigment "RD"`}, got.Changed)
	assert.Equal(t, 55.0, price(other))
	for _, b := range []*Bench{mine, other} {
		sum := checksum(t, b)
		_, err = b.Import(ctx(t), bytes.NewReader(bundle), RefuseConflicts)
		require.NoError(t, err, "once settled it stays settled")
		assert.Equal(t, sum, checksum(t, b))
		verified(t, b)
	}

	// Going on from a shared card is no conflict, either way round.
	put(theirs, red(50))
	_, err = other.Import(ctx(t), bytes.NewReader(exported(t, theirs)), RefuseConflicts)
	require.NoError(t, err)
	assert.Equal(t, 50.0, price(other))
	put(other, red(45))
	_, err = other.Import(ctx(t), bytes.NewReader(exported(t, theirs)), TakeTheirs)
	require.NoError(t, err)
	assert.Equal(t, 45.0, price(other), "ours went on from theirs")

	// Two benches that say the same agree, whoever typed it.
	put(ours, red(45))
	_, err = ours.Import(ctx(t), bytes.NewReader(exported(t, other)), RefuseConflicts)
	require.NoError(t, err)
	assert.Equal(t, 45.0, price(ours))
	verified(t, ours)
}

func TestImportRefusesTwoHistories(t *testing.T) {
	ours := fullBench(t)
	theirs := cloned(t, ours)
	theirs.options.Who = "bo"
	for _, b := range []*Bench{ours, theirs} {
		r, err := b.Recipe(ctx(t), "R1")
		require.NoError(t, err)
		_, err = b.Approve(ctx(t), Approval{Recipe: r.Ref})
		require.NoError(t, err)
	}
	before := checksum(t, ours)
	for _, on := range []OnConflict{RefuseConflicts, KeepMine, TakeTheirs} {
		_, err := ours.Import(ctx(t), bytes.NewReader(exported(t, theirs)), on)
		require.ErrorIs(t, err, ErrConflict)
		require.Contains(t, err.Error(), `approval "Harbour lamp / housing" of "Tern Lighting"`)
	}
	assert.Equal(t, before, checksum(t, ours))

	ours = fullBench(t)
	theirs = cloned(t, ours)
	for i, b := range []*Bench{ours, theirs} {
		_, err := b.MoveStock(ctx(t), StockMove{Stock: "pail 1", Kind: Draw, Grams: float64(100 + i)})
		require.NoError(t, err)
	}
	_, err := ours.Import(ctx(t), bytes.NewReader(exported(t, theirs)), TakeTheirs)
	require.ErrorIs(t, err, ErrConflict)
	// But one that simply went on is taken.
	_, err = fullBench(t).Import(ctx(t), bytes.NewReader(exported(t, theirs)), RefuseConflicts)
	require.NoError(t, err)
}

func cloned(t testing.TB, b *Bench) *Bench {
	t.Helper()
	if inDatabase != nil {
		k := newBench(t)
		_, err := k.Import(ctx(t), bytes.NewReader(exported(t, b)), RefuseConflicts)
		require.NoError(t, err)
		return k
	}
	path := filepath.Join(t.TempDir(), "clone.db")
	require.NoError(t, backup(t, b, path))
	k, err := Open(ctx(t), path, options())
	require.NoError(t, err)
	t.Cleanup(func() { k.Close() })
	return k
}

// Whatever byte of a bundle is changed, cut or doubled: nothing is imported.
func TestDamagedBundles(t *testing.T) {
	bundle := exported(t, fullBench(t))
	to := newBench(t)
	before := checksum(t, to)
	try := func(t require.TestingT, b []byte) {
		_, err := to.Import(context.Background(), bytes.NewReader(b), TakeTheirs)
		require.Error(t, err)
		require.NotContains(t, err.Error(), "\n")
	}
	lines := bytes.SplitAfter(bundle, []byte("\n"))
	for i := range lines[:len(lines)-1] {
		var without []byte
		for j, l := range lines {
			if j != i {
				without = append(without, l...)
			}
		}
		try(t, without)
	}
	try(t, append(append([]byte(nil), bundle...), '\n'))
	try(t, append(append([]byte(nil), bundle...), bundle...))
	try(t, nil)
	rapid.Check(t, func(t *rapid.T) {
		hurt := append([]byte(nil), bundle...)
		at := rapid.IntRange(0, len(hurt)-1).Draw(t, "at")
		if rapid.Bool().Draw(t, "cut") {
			try(t, hurt[:at])
		} else {
			hurt[at] ^= rapid.ByteRange(1, 255).Draw(t, "flip")
			if bytes.EqualFold(hurt, bundle) && at > bytes.LastIndexByte(bundle[:len(bundle)-1], '\n') {
				return // a key of the last line in capitals means the same
			}
			try(t, hurt)
		}
	})
	assert.Equal(t, before, checksum(t, to))
	_, err := to.Import(ctx(t), strings.NewReader(`{"bundle":"masstone","version":2}`+"\n"), RefuseConflicts)
	require.ErrorIs(t, err, ErrNewer)
	_, err = to.Import(ctx(t), strings.NewReader("chip,L,a,b\n"), RefuseConflicts)
	require.ErrorIs(t, err, ErrInvalid)
}

// The last line counts the records; its checksum covers all lines but itself, so
// a wrong number is found by counting only.
func TestBundleOfAnotherNumberOfRecords(t *testing.T) {
	right := forge(t, forged{"pigment", "", `{"code":"RD"}`}, forged{"client", "", `{"name":"Gull Boats"}`})
	for says, refused := range map[string]bool{`"records":2`: false, `"records":1`: true, `"records":3`: true, `"records":0`: true, `"records":-2`: true} {
		b := newBench(t)
		before := checksum(t, b)
		_, err := b.Import(ctx(t), bytes.NewReader(bytes.Replace(right, []byte(`"records":2`), []byte(says), 1)), RefuseConflicts)
		if !refused {
			require.NoError(t, err)
			continue
		}
		require.ErrorIs(t, err, ErrDamaged, says)
		require.ErrorContains(t, err, "it has 2 records")
		assert.Equal(t, before, checksum(t, b), says)
	}
}

// A bundle with the right checksums but impossible content is refused too.
func TestForgedBundles(t *testing.T) {
	pigment := `{"code":"RD"}`
	for name, records := range map[string][]forged{
		"a pigment nobody has":      {{"chip", "", `{"resin":"CLR","name":"X","loadings":{"RD":1},"backing":"white","thickness_mm":3,"readings":[]}`}},
		"a field nobody knows":      {{"pigment", "", `{"code":"RD","glow":1}`}},
		"a field twice":             {{"pigment", "", `{"code":"RD","code":"WH"}`}},
		"spaces":                    {{"pigment", "", `{"code": "RD"}`}},
		"an impossible number":      {{"pigment", "", `{"code":"RD","density":-1}`}},
		"no name":                   {{"pigment", "", `{"code":""}`}},
		"a kind nobody knows":       {{"spell", "", `{}`}},
		"a card before its forbear": {{"pigment", strings.Repeat("0", 64), pigment}},
		"not an object":             {{"pigment", "", `[1]`}},
		"null":                      {{"pigment", "", `null`}},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBench(t)
			before := checksum(t, b)
			_, err := b.Import(ctx(t), bytes.NewReader(forge(t, records...)), TakeTheirs)
			require.Error(t, err)
			assert.Equal(t, before, checksum(t, b))
		})
	}
	b := newBench(t)
	_, err := b.Import(ctx(t), bytes.NewReader(forge(t, forged{"pigment", "", pigment})), RefuseConflicts)
	require.NoError(t, err, "the forger knows the format")
}

type forged struct{ kind, prev, doc string }

// forge writes a bundle by hand, from the format's description.
func forge(t testing.TB, records ...forged) []byte {
	t.Helper()
	at := noon.Format(stampLayout)
	out := `{"bundle":"masstone","version":1,"holds":"","at":"` + at + `","who":"","program":""}` + "\n"
	for _, r := range records {
		sum := digestOf(r.kind, r.prev, at, "bo", "p", r.doc)
		out += `{"kind":"` + r.kind + `","prev":"` + r.prev + `","at":"` + at + `","who":"bo","program":"p","sum":"` + hexOf(sum[:]) + `","doc":` + r.doc + "}\n"
	}
	whole := digestOf(out)
	return []byte(out + `{"end":true,"records":` + strconv.Itoa(len(records)) + `,"sha256":"` + hexOf(whole[:]) + `"}` + "\n")
}

func hexOf(b []byte) string {
	const digits = "0123456789abcdef"
	var s strings.Builder
	for _, x := range b {
		s.WriteByte(digits[x>>4])
		s.WriteByte(digits[x&15])
	}
	return s.String()
}

func fuzzBench(f *testing.F) *Bench {
	b, err := Create(context.Background(), filepath.Join(f.TempDir(), "shop.db"), options())
	if err != nil {
		f.Fatal(err)
	}
	f.Cleanup(func() { b.Close() })
	return b
}

// importThenVerify imports what may be anything: refused, or the bench is sound.
func importThenVerify(t *testing.T, b *Bench, bundle []byte) {
	ctx := t.Context()
	if _, err := b.Import(ctx, bytes.NewReader(bundle), TakeTheirs); err != nil {
		if strings.Contains(err.Error(), "\n") {
			t.Fatal(err)
		}
		return
	}
	v, err := b.Verify(ctx)
	if err != nil || len(v.Problems) > 0 {
		t.Fatal(err, v.Problems)
	}
}

func FuzzImport(f *testing.F) {
	b := fuzzBench(f)
	f.Add(forge(f, forged{"pigment", "", `{"code":"RD"}`}))
	f.Add(forge(f, forged{"backing", "", `{"name":"grey","constant":0.2}`}, forged{"client", "", `{"name":"Gull Boats"}`}))
	f.Add([]byte(`{"bundle":"masstone","version":1}` + "\n" + `{"end":true}` + "\n"))
	f.Fuzz(func(t *testing.T, bundle []byte) { importThenVerify(t, b, bundle) })
}

// FuzzImportRecord gets past the checksums, to what reads the records.
func FuzzImportRecord(f *testing.F) {
	b := fuzzBench(f)
	for k, doc := range sampleDocuments(f) {
		f.Add(k, doc)
	}
	f.Fuzz(func(t *testing.T, kind, doc string) {
		if strings.ContainsAny(kind, "\n\"\\") || strings.Contains(doc, "\n") {
			return
		}
		importThenVerify(t, b, forge(t, forged{kind, "", doc}))
	})
}

// sampleDocuments gives a document of every kind.
func sampleDocuments(t testing.TB) map[string]string {
	b := fullBench(t)
	all := map[string]string{}
	for _, k := range kinds() {
		var doc string
		require.NoError(t, pool(b).QueryRow("SELECT doc FROM "+k.table).Scan(&doc))
		all[k.name] = doc
	}
	return all
}
