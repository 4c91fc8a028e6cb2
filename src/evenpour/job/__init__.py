"""The journal, its store, job files in and out; joins the layers below."""
