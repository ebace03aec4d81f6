package main

import (
	"bytes"
	"io"

	"github.com/spf13/cobra"
)

// oneFile is where a command with one result writes it: the file that -o
// names, or standard output.
type oneFile struct {
	path  string
	force bool
}

func (f *oneFile) flags(cmd *cobra.Command) {
	cmd.Flags().StringVarP(&f.path, "out", "o", "", "file to write to (default: standard output)")
	cmd.Flags().BoolVar(&f.force, "force", false, "overwrite a file that exists without asking")
}

// write writes the result whole or not at all.
func (f *oneFile) write(cmd *cobra.Command, write func(io.Writer) error) error {
	var b bytes.Buffer
	if err := write(&b); err != nil {
		return err
	}
	put := func(w io.Writer) error { _, err := w.Write(b.Bytes()); return err }
	if f.path == "" || f.path == "-" {
		return put(cmd.OutOrStdout())
	}
	if err := mayOverwrite([]string{f.path}, nil, f.force, cmd.InOrStdin(), cmd.ErrOrStderr()); err != nil {
		return err
	}
	return writeFile(f.path, put)
}
