package workbench

import (
	"context"
	"errors"
	"fmt"
	"io"

	"masstone/color/remedy"
	"masstone/recipes/archive"
)

// An ExportRequest asks for a bundle of a client or of a recipe, each with all
// it was made from; of the whole bench if it names neither.
type ExportRequest struct {
	Client, Recipe string
	// Rest leaves out what is damaged or breaks the rules, and what came from it.
	Rest bool
}

// check refuses a request that names both.
func (r ExportRequest) check() error {
	switch {
	case r.Client != "" && r.Recipe != "":
		return invalid("", "export: give either %s or %s", remedy.Input("client"), remedy.Input("recipe"))
	case r.Rest && r.Client+r.Recipe != "":
		return invalid("", "export: %s is of the whole bench; leave %s and %s out", remedy.Input("rest"), remedy.Input("client"), remedy.Input("recipe"))
	}
	return nil
}

// Holds says what the bundle will hold.
func (r ExportRequest) Holds() string {
	switch {
	case r.Rest:
		return "the rest of the bench"
	case r.Client != "":
		return "client " + r.Client
	case r.Recipe != "":
		return "recipe " + r.Recipe
	}
	return "the whole bench"
}

// An Exported says what is in a bundle.
type Exported struct {
	File    string `json:"file"` // the face fills it in
	Holds   string `json:"holds"`
	Records int    `json:"records"`
	// Left has a line for each record that is left out.
	Left []string `json:"left_out,omitempty" doc:"what is damaged and what came from it"`
}

// Export writes a bundle for another bench to w.
func Export(ctx context.Context, b *Bench, w io.Writer, r ExportRequest) (Exported, error) {
	v := Exported{Holds: r.Holds()}
	err := r.check()
	switch {
	case err != nil:
	case r.Client != "":
		v.Records, err = b.archive.ExportClient(ctx, w, r.Client)
	case r.Rest:
		v.Records, v.Left, err = b.archive.ExportRest(ctx, w)
	case r.Recipe != "":
		v.Records, err = b.archive.ExportRecipe(ctx, w, r.Recipe)
	default:
		v.Records, err = b.archive.Export(ctx, w)
	}
	return v, err
}

// An ImportRequest takes in a bundle from another bench.
type ImportRequest struct {
	Name string // of the bundle, in messages
	Data io.Reader
	Size int64 // of Data in bytes, for progress; 0 if it is not known
	// KeepMine and TakeTheirs say which card counts where a name stands for one
	// thing here and for another in the bundle; the other is kept behind it.
	KeepMine, TakeTheirs bool
}

// An Imported says what became of a bundle.
type Imported struct {
	Holds     string         `json:"holds"`
	Added     map[string]int `json:"added" doc:"records by kind"`
	Unchanged int            `json:"unchanged" doc:"records"`
	Changed   []string       `json:"changed" doc:"names that stand for something else now"`
	Numbered  []string       `json:"numbered" doc:"what has another number here"`

	Records int `json:"-"` // added, of all kinds
}

// Import takes in a bundle: all of it, or nothing if anything in it is damaged,
// missing or stands for two things. The same bundle twice changes nothing.
func Import(ctx context.Context, b *Bench, r ImportRequest) (Imported, error) {
	on := archive.RefuseConflicts
	switch {
	case r.KeepMine && r.TakeTheirs:
		return Imported{}, invalid("", "import: give either %s or %s", remedy.Input("keep-mine"), remedy.Input("take-theirs"))
	case r.KeepMine:
		on = archive.KeepMine
	case r.TakeTheirs:
		on = archive.TakeTheirs
	}
	got, err := b.archive.Import(ctx, &counted{r.Data, b, 0, r.Size}, on)
	switch {
	case errors.Is(err, archive.ErrConflict) && on == archive.RefuseConflicts:
		return Imported{}, fmt.Errorf("%s: %w; %s or %s says so", r.Name, err, remedy.Input("keep-mine"), remedy.Input("take-theirs"))
	case errors.Is(err, archive.ErrInvalid):
		return Imported{}, &Error{Failed, "", fmt.Errorf("%s: %w", r.Name, err)} // the file's fault
	case err != nil:
		return Imported{}, fmt.Errorf("%s: %w", r.Name, err)
	}
	v := Imported{Holds: got.Holds, Added: got.Added, Unchanged: got.Unchanged, Changed: append([]string{}, got.Changed...), Numbered: append([]string{}, got.Numbered...)}
	for _, n := range got.Added {
		v.Records += n
	}
	return v, nil
}

// counted tells how much of a bundle was read.
type counted struct {
	io.Reader
	bench *Bench
	done  int64
	size  int64
}

func (c *counted) Read(p []byte) (n int, err error) {
	n, err = c.Reader.Read(p)
	if c.done += int64(n); c.size > 0 {
		c.bench.count(int(c.done), int(c.size))
	} else {
		c.bench.step("reading")
	}
	return n, err
}

// Seek is for a bundle that is read once more.
func (c *counted) Seek(offset int64, whence int) (int64, error) {
	s, can := c.Reader.(io.Seeker)
	if !can {
		return 0, errors.ErrUnsupported
	}
	at, err := s.Seek(offset, whence)
	c.done = at
	return at, err
}

// A ForgetRequest asks for a bench without a client.
type ForgetRequest struct {
	Client string
	Into   string // file of the new bench
}

// A Forgotten is a new bench and what is not on it.
type Forgotten struct {
	Bench    string   `json:"bench"`
	Records  int      `json:"records"`
	Left     []string `json:"left_out"`
	Numbered []string `json:"numbered" doc:"what has another number there"`
}

// Forget makes a new bench without a client and all that was made for it. The
// bench it is made from stays as it is.
func Forget(ctx context.Context, b *Bench, r ForgetRequest) (Forgotten, error) {
	if r.Into == "" {
		return Forgotten{}, missing("forget", "into", "name the file of the new bench", "new.db")
	}
	got, err := b.archive.Forget(ctx, r.Client, r.Into)
	return Forgotten{r.Into, got.Records, append([]string{}, got.Left...), append([]string{}, got.Numbered...)}, err
}
