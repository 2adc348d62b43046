package product

// padjig product import: the key matrix of a firmware's devicetree, as a file to finish by hand.

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"regexp"
	"strings"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/output"
	"padjig/sequence/devicetree"
	"padjig/sequence/product"
)

// importing is what the command line says of an import.
type importing struct{ node, code, out string }

func newImport() *cobra.Command {
	var o importing
	cmd := &cobra.Command{
		Use:   "import FILE.dts",
		Short: "Make a product file of the key matrix in a devicetree source",
		Long: `Reads the key matrix that a devicetree source describes (linux,keymap and the
properties beside it) and writes a product file to finish by hand: the grid with
labels from the key codes, the lines, and what is stated of debounce and
scanner. The order of the tail is assumed and says so. docs/devicetree.md tells
what is read and what is made of it.

What looks odd - two keys on one crossing, keys outside the stated size, a row
switched to ground - is remarked on as file:line:column, and stands in the
product file too.

Exit status: 0 when a product file was made, else 2.`,
		Example: `  padjig product import testdata/devicetree/gcc-20.dts
  padjig product import board.dts --node /keypad --code GCC-20 --out gcc-20.yaml`,
		Args: command.Exactly(1, "one devicetree source"),
		RunE: func(cmd *cobra.Command, args []string) error { return importProduct(cmd, args[0], o) },
	}
	cmd.Flags().StringVar(&o.node, "node", "", "`path` or label of the keypad's node, if there are several")
	cmd.Flags().StringVar(&o.code, "code", "", "`code` of the product (default: the name of the source)")
	cmd.Flags().StringVar(&o.out, "out", "", "`file` to write, not there yet (default: standard output)")
	return cmd
}

func importProduct(cmd *cobra.Command, file string, o importing) error {
	text, err := command.ReadAtMost(file, devicetree.MaxSize)
	if err != nil {
		return command.WrongUse(fmt.Errorf("read devicetree source: %w", err))
	}
	pad, err := devicetree.Import(file, text, o.node)
	if err != nil {
		return sourceWrong(cmd, file, err)
	}
	if o.code == "" {
		o.code = codeOf(file)
	}
	return writeDraft(cmd, pad, o)
}

func sourceWrong(cmd *cobra.Command, file string, err error) error {
	list, ok := errors.AsType[product.Mistakes](err)
	if !ok {
		return command.Fail(command.Wrong, err, "name the node with --node, or import the source that holds the keymap")
	}
	fmt.Fprintln(cmd.ErrOrStderr(), list)
	return command.Fail(command.Wrong, fmt.Errorf("%s in %s", command.Count(len(list), "mistake"), file),
		"correct the lines named above and import again; docs/devicetree.md says what is read")
}

var notInCode = regexp.MustCompile(`[^A-Za-z0-9._-]+`)

// codeOf makes a product code of the name of the source.
func codeOf(file string) string {
	base := strings.TrimSuffix(filepath.Base(file), filepath.Ext(file))
	code := strings.Trim(notInCode.ReplaceAllString(base, "-"), "-._")
	if code == "" {
		return "KEYPAD"
	}
	return strings.ToUpper(code[:min(len(code), 40)])
}

// writeDraft makes sure that the draft is a product before anything is written.
func writeDraft(cmd *cobra.Command, pad *devicetree.Keypad, o importing) error {
	draft := pad.Draft(o.code)
	p, err := product.Parse("the product file", draft)
	if err != nil {
		return command.Fail(command.Wrong, fmt.Errorf("make a product of %s in %s: %w", pad.Node, pad.File, err),
			"with --code name the product by letters, digits, dots, dashes and underscores")
	}
	if len(pad.Remarks) > 0 {
		fmt.Fprintln(cmd.ErrOrStderr(), pad.Remarks)
	}
	if o.out == "" {
		_, err := cmd.OutOrStdout().Write(draft)
		return err
	}
	if err := output.Write(o.out, output.ProductDraft, "", func(w io.Writer) error { _, err := w.Write(draft); return err }); err != nil {
		return err
	}
	return saidWhere(cmd.OutOrStdout(), p, o.out)
}

func saidWhere(to io.Writer, p *product.Product, path string) error {
	_, err := fmt.Fprintf(to, "%s: %s, %s, %s; put the tail in order, then padjig product check %s\n",
		path, p.Code, command.Count(len(p.Keys), "key"), command.Count(len(p.Lines), "line"), path)
	return err
}
