module markaround

go 1.26.0
