"""The profiles that come with the program, as TOML files beside this one."""
