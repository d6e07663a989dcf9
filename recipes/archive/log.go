package archive

import (
	"context"
	"math"
	"strings"
	"time"
)

// A LogLine is one change to the bench: who did what, when.
type LogLine struct {
	ID      int64     `json:"id"`
	At      time.Time `json:"at"`
	Who     string    `json:"who"`
	Program string    `json:"program"`
	Verb    string    `json:"verb"`
	Subject string    `json:"subject"`
	Detail  string    `json:"detail"`
}

// A LogFilter chooses lines of the log. Its zero value chooses all.
type LogFilter struct {
	Since, Until time.Time // Until is exclusive
	Who          string
	About        string // words in the verb, subject or detail
	Limit        int    // newest lines; 0 is all
}

// Log returns lines of the log, oldest first.
func (b *Bench) Log(ctx context.Context, f LogFilter) ([]LogLine, error) {
	return read(ctx, b, func(tx *snapshot) ([]LogLine, error) {
		since, until := "", "9999"
		if !f.Since.IsZero() {
			since = f.Since.UTC().Format(stampLayout)
		}
		if !f.Until.IsZero() {
			until = f.Until.UTC().Format(stampLayout)
		}
		limit := int64(f.Limit)
		if limit <= 0 {
			limit = math.MaxInt64
		}
		rows, err := tx.QueryContext(ctx, `SELECT * FROM (
			SELECT id, at, who, program, verb, subject, detail FROM log
			WHERE at >= ?1 AND at < ?2 AND (who = ?3 OR ?3 = '') AND instr(lower(concat_ws(' ', verb, subject, detail)), ?4) > 0
			ORDER BY id DESC LIMIT ?5) AS lines ORDER BY id`, since, until, f.Who, lower(f.About), limit)
		if err != nil {
			return nil, err
		}
		defer rows.Close()
		var lines []LogLine
		for rows.Next() {
			var l LogLine
			var at string
			if err := rows.Scan(&l.ID, &at, &l.Who, &l.Program, &l.Verb, &l.Subject, &l.Detail); err != nil {
				return nil, err
			}
			if l.At, err = time.Parse(stampLayout, at); err != nil {
				return nil, err
			}
			lines = append(lines, l)
		}
		return lines, rows.Err()
	})
}

// lower is text with the capitals A to Z made small, which is what the engines agree
// on.
func lower(text string) string {
	return strings.Map(func(r rune) rune {
		if 'A' <= r && r <= 'Z' {
			r += 'a' - 'A'
		}
		return r
	}, text)
}
