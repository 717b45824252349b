"""One bench's plugins of feelcheck, one module a family."""
