package notice

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
)

// ErrNotCanonical is of a body that could be read in two ways, or that somebody wrote otherwise.
var ErrNotCanonical = errors.New("not canonical JSON")

// Canonical gives a value the one form in which it is signed, that of RFC 8785 for what bodies
// have: objects with their members sorted, lists, texts, yes and no, and whole numbers up to 2^53.
func Canonical(value any) ([]byte, error) {
	text, err := json.Marshal(value)
	if err != nil {
		return nil, err
	}
	return canonicalOf(text)
}

func canonicalOf(text []byte) ([]byte, error) {
	dec := json.NewDecoder(bytes.NewReader(text))
	dec.UseNumber()
	var value any
	if err := dec.Decode(&value); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrNotCanonical, err)
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("%w: something follows it", ErrNotCanonical)
	}
	var out bytes.Buffer
	err := write(&out, value)
	return out.Bytes(), err
}

func write(out *bytes.Buffer, value any) error {
	switch v := value.(type) {
	case map[string]any:
		return writeList(out, "{}", slices.Sorted(maps.Keys(v)), func(name string) error {
			writeText(out, name)
			out.WriteByte(':')
			return write(out, v[name])
		})
	case []any:
		return writeList(out, "[]", v, func(one any) error { return write(out, one) })
	case string:
		writeText(out, v)
	case bool:
		out.WriteString(strconv.FormatBool(v))
	case json.Number:
		n, err := strconv.ParseInt(string(v), 10, 64)
		const most = 1 << 53
		if err != nil || n > most || n < -most {
			return fmt.Errorf("%w: %s is no whole number up to 2^53", ErrNotCanonical, v)
		}
		out.WriteString(strconv.FormatInt(n, 10))
	default:
		return fmt.Errorf("%w: null", ErrNotCanonical)
	}
	return nil
}

func writeList[T any](out *bytes.Buffer, around string, list []T, each func(T) error) error {
	out.WriteByte(around[0])
	for i, one := range list {
		if i > 0 {
			out.WriteByte(',')
		}
		if err := each(one); err != nil {
			return err
		}
	}
	out.WriteByte(around[1])
	return nil
}

func writeText(out *bytes.Buffer, text string) {
	short := map[rune]string{'"': `\"`, '\\': `\\`, '\b': `\b`, '\t': `\t`, '\n': `\n`, '\f': `\f`, '\r': `\r`}
	out.WriteByte('"')
	for _, r := range text {
		switch escaped, is := short[r]; {
		case is:
			out.WriteString(escaped)
		case r < ' ':
			fmt.Fprintf(out, `\u%04x`, r)
		default:
			out.WriteRune(r)
		}
	}
	out.WriteByte('"')
}

// read reads a body as it is signed: whatever is unknown, doubled or written otherwise is refused.
func read(body []byte, into any) error {
	if len(body) > MostBytes {
		return fmt.Errorf("%w: longer than %d bytes", ErrNotCanonical, MostBytes)
	}
	dec := json.NewDecoder(bytes.NewReader(body))
	dec.DisallowUnknownFields()
	if err := dec.Decode(into); err != nil {
		return fmt.Errorf("%w: %w", ErrNotCanonical, err)
	}
	again, err := Canonical(into)
	if err == nil && !bytes.Equal(again, body) {
		err = ErrNotCanonical
	}
	return err
}
