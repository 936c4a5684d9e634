"""The application for servers that start their own workers: settings from the environment."""

from fastapi import FastAPI

from app.main import create_app
from app.settings import Settings


def application() -> FastAPI:
    return create_app(Settings.from_environment())
