package archive

import (
	"database/sql"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/recipes/archive/engine"
)

var writeFold = flag.Bool("write-fold", false, "write the step that folds words")

// TestFold: what PostgreSQL takes for a word, and by which letters, is what SQLite's
// tokenizer says of every character, asked of the
// tokenizer itself: up to U+3000, and in the study of the planes in use.
func TestFold(t *testing.T) {
	db, err := sql.Open("sqlite", ":memory:")
	require.NoError(t, err)
	defer db.Close()
	db.SetMaxOpenConns(1)
	last := rune(0x3000)
	if faults > 1 || *writeFold {
		last = 0x30000
	}
	_, err = db.Exec(`CREATE VIRTUAL TABLE each USING fts5 (text, tokenize = 'unicode61 remove_diacritics 2');
		CREATE VIRTUAL TABLE token USING fts5vocab (each, instance);
		WITH RECURSIVE code (n) AS (VALUES (128) UNION ALL SELECT n + 1 FROM code WHERE n < ?)
		INSERT INTO each (rowid, text) SELECT n, 'a' || char(n) || 'b' FROM code WHERE n NOT BETWEEN 55296 AND 57343`, last-1)
	require.NoError(t, err)
	found := map[rune]string{}
	require.NoError(t, engine.EachRow(ctx(t), db, func(rows *sql.Rows) error {
		var r rune
		var text string
		err := rows.Scan(&r, &text)
		found[r] = text
		return err
	}, `SELECT doc, group_concat(term, ' ') FROM (SELECT doc, term FROM token ORDER BY doc, offset) GROUP BY doc`))

	var from, to strings.Builder
	var drop, keep ranges
	for r := rune(128); r < last; r++ {
		switch text := found[r]; text {
		case "": // a surrogate
		case "a b":
		case "ab":
			drop.add(r)
		default:
			folded, _ := utf8.DecodeRuneInString(strings.TrimPrefix(text, "a"))
			require.Equal(t, "a"+string(folded)+"b", text, "%U", r)
			if folded != r {
				from.WriteRune(r)
				to.WriteRune(folded)
			}
			keep.add(r)
		}
	}
	want := fmt.Sprintf(`-- The words of a text, as SQLite's full-text index has them: letters without
-- accents, made small, and digits; everything else parts words. The program's
-- tests compare every character.

-- +goose Up
-- +goose StatementBegin
CREATE FUNCTION plain(t text) RETURNS text IMMUTABLE STRICT PARALLEL SAFE
RETURN CASE WHEN t !~ '[^\x01-\x7f]' THEN lower(t COLLATE "C") ELSE (
	SELECT string_agg(CASE WHEN c <= '~' COLLATE "C" THEN lower(c COLLATE "C") ELSE translate(c,
'%s',
'%s') END, '' ORDER BY n)
	FROM regexp_split_to_table(regexp_replace(t, '[%s]', '', 'g'), '') WITH ORDINALITY AS letter (c, n)) END;

CREATE FUNCTION words(t text) RETURNS text[] IMMUTABLE STRICT PARALLEL SAFE
RETURN string_to_array(trim(CASE WHEN t !~ '[^\x01-\x7f]'
	THEN regexp_replace(plain(t), '[^0-9a-z]+', ' ', 'g')
	ELSE regexp_replace(plain(t), '[^0-9a-z%s]+', ' ', 'g') END), ' ');
-- +goose StatementEnd
`, from.String(), to.String(), drop.String(), keep.String())
	file := filepath.Join("postgres", "migrations", "0008_words.sql")
	if *writeFold {
		require.NoError(t, os.WriteFile(file, []byte(want), 0o644))
	}
	got, err := os.ReadFile(file)
	require.NoError(t, err)
	if last == 0x30000 {
		assert.True(t, string(got) == want, "%s is not what the tokenizer says", file)
		return
	}
	for _, part := range []string{"'" + from.String(), "'" + to.String(), drop.String(), keep[:len(keep)-2].String()} {
		assert.True(t, strings.Contains(string(got), part), "%s is not what the tokenizer says", file)
	}
}

// ranges are characters as a class of a regular expression.
type ranges []rune // first and last, by turns

func (s *ranges) add(r rune) {
	if n := len(*s); n > 0 && (*s)[n-1] == r-1 {
		(*s)[n-1] = r
		return
	}
	*s = append(*s, r, r)
}

func (s ranges) String() string {
	var b strings.Builder
	for i := 0; i < len(s); i += 2 {
		fmt.Fprintf(&b, `\U%08X`, s[i])
		if s[i+1] > s[i] {
			fmt.Fprintf(&b, `-\U%08X`, s[i+1])
		}
	}
	return b.String()
}
