package command

// Files that a person names to be read: product files, with every mistake at its place,
// and those that may not be too large.

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"
	"syscall"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command/terminal"
	"padjig/sequence/product"
)

// LoadProduct loads a product file; what is wrong with it is printed line by
// line, as editors like it.
func LoadProduct(cmd *cobra.Command, path string) (*product.Product, error) {
	p, err := product.Load(path)
	mistakes, wrong := errors.AsType[product.Mistakes](err)
	switch {
	case err == nil:
		return p, nil
	case wrong:
		PrintMistakes(cmd.ErrOrStderr(), mistakes)
		return nil, wrongProduct(path, len(mistakes))
	}
	return nil, Fail(Wrong, err, OtherProduct(err))
}

// PrintMistakes prints mistakes line by line; at a terminal words are not broken.
func PrintMistakes(to io.Writer, mistakes error) {
	t := terminal.Of(to)
	for line := range strings.Lines(mistakes.Error()) {
		fmt.Fprintln(to, folded(t, 2, Shown(strings.TrimRight(line, "\n"))))
	}
}

// OtherProduct says what to do about a product file that cannot be read.
func OtherProduct(err error) string {
	switch {
	case errors.Is(err, fs.ErrPermission):
		return "a file that this user may read"
	case errors.Is(err, syscall.EISDIR):
		return "the path of a file in it"
	}
	here, _ := os.Getwd() // where it is not known, the rest helps all the same
	return fmt.Sprintf("a path from this folder, %s; an example is testdata/products/gcc-20.yaml where padjig was built, "+
		"and padjig product check FILE says what is wrong with one of yours", here)
}

func wrongProduct(path string, mistakes int) error {
	return Fail(Wrong, fmt.Errorf("product file %s has %s", path, Count(mistakes, "mistake")),
		"correct the lines named above, then: padjig product check "+path)
}

// ReadAtMost reads a file as far as it may go, and one byte of a larger one, so
// that whoever checks its size sees that it is.
func ReadAtMost(path string, most int64) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, most+1))
}
